"""Replay many recordings again and again in one process, each read once."""

import gc
from dataclasses import dataclass
from typing import Any

import msgspec

from drainscale.quantities.job import Job
from drainscale.recording.job_file import read_job
from drainscale.recording.records import Recording
from drainscale.recording.senml import read_recording
from drainscale.replay.playback import play
from drainscale_sim.ablation.part import Part, switched
from drainscale_sim.score.figures import REACH
from drainscale_sim.score.grade import Graded
from drainscale_sim.score.replays import Case, Replayed
from drainscale_sim.score.report import assess


@dataclass(frozen=True, slots=True)
class Loaded:
    """A recording in memory."""

    case: Case
    recording: Recording
    job: Job


@dataclass(frozen=True, slots=True)
class Run:
    """What all recordings gave, once.

    Attributes:
        grades: The figures to reach, by name; a recording that failed gives none.
        answers: By recording, encoded, to be compared.
        failed: By recording, what went wrong.
    """

    grades: dict[str, Graded]
    answers: dict[str, bytes]
    failed: dict[str, str]

    def changed(self, other: "Run") -> int:
        """Count the recordings whose answers differ."""
        return sum(self.answers[name] != other.answers[name] for name in self.answers)


def load(cases: list[Case]) -> list[Loaded]:
    """Read all recordings into memory."""
    loaded = [Loaded(case, read_recording(case.recording), read_job(case.job)) for case in cases]
    gc.freeze()  # millions of samples that the collector need not visit with every answer
    return loaded


def run(loaded: list[Loaded], part: Part | None = None) -> Run:
    """Replay everything, a part of the core switched off."""
    if part is None:
        replayed = [_replay(one) for one in loaded]
    else:
        with switched(part):
            replayed = [_replay(one) for one in loaded]
    report = assess(replayed)
    grades = {graded.figure.name: graded for graded in report.grades(REACH)}
    answers = {one.case.name: msgspec.json.encode(one.answer) for one in replayed}
    return Run(grades, answers, report.failed)


def _replay(one: Loaded) -> Replayed:
    try:
        told: Any = play(one.recording, one.job).to_dict()
    except (ArithmeticError, ValueError, AssertionError, LookupError, AttributeError) as error:
        # without its part the core may break: that is a finding, not the end of the run
        return Replayed(one.case, None, f"{type(error).__name__}: {error}", None)
    return Replayed(one.case, msgspec.json.decode(msgspec.json.encode(told)), None, None)
