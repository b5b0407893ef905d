"""Join all comparisons: one tally a group, the grades, and a summary for machines."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from drainscale_sim.score.answer import Answer
from drainscale_sim.score.contract import complaints
from drainscale_sim.score.figures import BESIDE, FIRST, REACH, Bound, Figure
from drainscale_sim.score.grade import Graded, grade, reduce
from drainscale_sim.score.judge import judge
from drainscale_sim.score.replays import Replayed
from drainscale_sim.score.tally import Tally
from drainscale_sim.score.truth import Truth, read_truth

GROUPS = ("all", "marked", "not fully marked")
SETS = {"reach": REACH, "first version": FIRST, "beside": BESIDE}
TIMED_RATE_HZ, TIMED_S = 80.0, 2700.0  # the replay time is told for 45 minutes at this rate


@dataclass(slots=True)
class Report:
    """What a folder of recordings gave."""

    tallies: dict[str, Tally] = field(default_factory=lambda: {g: Tally() for g in GROUPS})
    each: dict[str, Tally] = field(default_factory=dict)
    failed: dict[str, str] = field(default_factory=dict)
    malformed: dict[str, list[str]] = field(default_factory=dict)
    recordings: int = 0

    @property
    def is_sound(self) -> bool:
        """Tell whether every recording gave an answer of the right form."""
        return self.recordings > 0 and not self.failed and not self.malformed

    def add(self, replayed: Replayed) -> None:
        """Compare one replay with its truth.

        Raises:
            ValueError: The truth file is broken.
        """
        truth = read_truth(replayed.case.truth)
        self.recordings += 1
        if replayed.failure is not None:
            self.failed[truth.name] = replayed.failure
            return
        faults = complaints(replayed.answer)
        if faults:
            self.malformed[truth.name] = faults
        if isinstance(replayed.answer, dict):
            self._judge(Answer(replayed.answer), truth, replayed.cpu_s)

    def _judge(self, answer: Answer, truth: Truth, cpu_s: float | None) -> None:
        tally = judge(answer, truth)
        if cpu_s is not None and truth.rate_Hz == TIMED_RATE_HZ:
            tally.add("replay_80Hz_s", cpu_s * TIMED_S / truth.duration_s)
        self.each[truth.name] = tally
        for group in ("all", "marked" if truth.is_fully_marked else "not fully marked"):
            self.tallies[group].merge(tally)

    def grades(self, figures: Iterable[Figure]) -> list[Graded]:
        """Grade figures over all recordings."""
        return [grade(figure, self.tallies["all"]) for figure in figures]

    def summary(self) -> dict[str, object]:
        """Return everything as plain data."""
        return {
            "format": 1,
            "recordings": self.recordings,
            "failed": self.failed,
            "malformed": self.malformed,
            "figures": [
                {"set": name, **self._told(graded)}
                for name, figures in SETS.items()
                for graded in self.grades(figures)
            ],
            "tallies": {group: tally.reduced() for group, tally in self.tallies.items()},
            "each": {name: tally.reduced() for name, tally in sorted(self.each.items())},
        }

    def _told(self, graded: Graded) -> dict[str, object]:
        figure = graded.figure
        return {
            "name": figure.name,
            "unit": figure.unit,
            "key": figure.key,
            "how": figure.how,
            "value": graded.value,
            "n": graded.n,
            "must": _limits(figure.must),
            "aim": _limits(figure.aim),
            "keeps_must": graded.keeps_must,
            "keeps_aim": graded.keeps_aim,
            "groups": {g: reduce(figure, self.tallies[g]) for g in GROUPS[1:]},
        }


def _limits(bound: Bound | None) -> list[float | None] | None:
    return None if bound is None else [bound.low, bound.high]


def assess(replays: Iterable[Replayed]) -> Report:
    """Compare replays with their truth.

    Raises:
        ValueError: A truth file is broken.
    """
    report = Report()
    for replayed in replays:
        report.add(replayed)
    return report
