"""One job with a keeper that only remembers: what is kept, shown and told, and in which order."""

from collections.abc import Iterable
from itertools import pairwise
from pathlib import Path

import pytest
from tests.kit.agent.benches import COUNTS_PER_KG, ZERO, bench_of, order

from drainscale.agent.job_run import ALL_SILENT_S, LOOK_S, JobRun
from drainscale.core import Service
from drainscale.errors import ProcedureError
from drainscale.messages.records import (
    Body,
    CueShown,
    EventTold,
    JobClosed,
    Note,
    ResultFormed,
    Samples,
)
from drainscale.procedure.steps import Step
from drainscale.quantities.job import Job
from drainscale.quantities.samples import BoardReading, PanReading, Sample, ScaleCount, StepMark

TICKS = ("fill-plug-opens", "level-before-drain", "pan-and-filter=stays-on")


def job() -> Job:
    return bench_of(Path("spool")).with_order(order())


class Memory:
    """A keeper; ``all`` is what it was given, in order."""

    def __init__(self) -> None:
        self.all: list[Sample | Body] = []

    def samples(self, samples: Iterable[Sample]) -> None:
        self.all += samples

    def tell(self, body: Body) -> None:
        self.all.append(body)

    def told(self, kind: type[Body]) -> list[Body]:
        return [one for one in self.all if isinstance(one, kind)]

    def cues(self) -> list[str]:
        return [one.cue for one in self.all if isinstance(one, CueShown)]

    def notes(self) -> list[tuple[str, str]]:
        return [(one.key, one.by) for one in self.all if isinstance(one, Note)]


def service(
    first_s: float, last_s: float, flow_kg_per_s: float = 0.0, ends_s: float = 1e9
) -> list[Sample]:
    """Samples of a bench: a container of 1 kg from 5 s on, a drain from 20 s on."""
    samples: list[Sample] = []
    for i in range(round(first_s * 10), round(last_s * 10)):
        t = i / 10
        kg = 0.0 if t < 5.0 else 1.0 + flow_kg_per_s * max(min(t, ends_s) - 20.0, 0.0)
        samples.append(ScaleCount(t, round(ZERO + kg * COUNTS_PER_KG) + i % 5))
        if i % 5 == 0:
            samples += [PanReading(t, 21.5), BoardReading(t, 22.0)]
    return samples


def cue_of(run: JobRun) -> str:
    return str(run.cue)


@pytest.fixture
def memory() -> Memory:
    return Memory()


@pytest.fixture
def run(memory: Memory) -> JobRun:
    return JobRun(job(), memory)


def go(run: JobRun, samples: list[Sample]) -> None:
    """Feed as the loop does: what came in 50 ms, then a look."""
    for i in range(0, len(samples), 5):
        run.feed(samples[i : i + 5])
        run.look(samples[min(i + 4, len(samples) - 1)].t)


def test_samples_are_kept_before_anything_is_told_of_them(run: JobRun, memory: Memory) -> None:
    go(run, service(0.0, 60.0, 0.05))
    events = [one for one in memory.all if isinstance(one, EventTold)]
    assert {"placed", "flow-started"} <= {event.event for event in events}
    last_t = float("-inf")
    for one in memory.all:
        if isinstance(one, EventTold):
            assert one.t <= last_t
        elif isinstance(one, ScaleCount):
            last_t = one.t


def test_keeper_gets_each_sample_once_and_as_it_came(run: JobRun, memory: Memory) -> None:
    samples = service(0.0, 30.0)
    go(run, samples)
    assert [one for one in memory.all if not hasattr(one, "__struct_fields__")] == samples


def test_cue_and_figures_are_formed_twice_a_second(run: JobRun) -> None:
    run.feed(service(0.0, 1.0))
    looks = [run.look(1.0 + i / 20) is not None for i in range(40)]
    assert sum(looks) == round(2.0 / LOOK_S)


def test_cue_is_told_when_it_changes_and_only_then(run: JobRun, memory: Memory) -> None:
    go(run, service(0.0, 20.0))
    shown = memory.cues()
    assert shown
    assert all(a != b for a, b in pairwise(shown))


def test_go_on_is_held_back_until_the_gates_are_answered(run: JobRun, memory: Memory) -> None:
    go(run, service(0.0, 15.0))
    assert cue_of(run) == "get-ready"
    run.tick_gates(15.0, TICKS)
    go(run, service(15.0, 18.0))
    assert cue_of(run) == "go-on"
    assert memory.notes() == [(tick.partition("=")[0], "board") for tick in TICKS]


@pytest.mark.parametrize("gate", ["no-such-gate", "pan-and-filter=perhaps", "check-hole-opens"])
def test_gate_or_answer_that_is_not_there_is_refused(run: JobRun, gate: str) -> None:
    with pytest.raises(ProcedureError, match=gate.partition("=")[0]):
        run.tick_gates(0.0, [gate])


def test_unanswered_gates_are_noted_once_as_the_drain_begins(run: JobRun, memory: Memory) -> None:
    go(run, service(0.0, 60.0, 0.05))
    assert run.service.situation.step is Step.DRAIN
    noted = [key for key, by in memory.notes() if by == "kit"]
    assert sorted(noted) == ["fill-plug-opens", "level-before-drain", "pan-and-filter"]
    texts = {one.text for one in memory.all if isinstance(one, Note)}
    assert texts == {"unanswered"}


def test_press_marks_a_step_that_is_fed_like_any_sample(run: JobRun, memory: Memory) -> None:
    run.tick_gates(0.0, TICKS)
    # the bulk runs out in 40 s, then nothing more comes
    samples = service(0.0, 160.0, 0.05, ends_s=60.0)
    go(run, samples)
    assert cue_of(run) == "go-on"
    run.pressed(160.0)
    assert run.take_marks() == [Step.DRAIN_PAN]
    assert run.take_marks() == []
    go(run, [StepMark(160.0, Step.DRAIN_PAN), *service(160.1, 161.0, 0.0)])
    assert run.service.situation.step is Step.DRAIN_PAN
    assert memory.told(ResultFormed) == []


def test_press_that_answers_gates_is_noted_with_who_pressed(run: JobRun, memory: Memory) -> None:
    go(run, service(0.0, 10.0))
    assert run.pressed(10.0)
    assert not run.pressed(11.0)  # nothing is asked any more that a press may answer
    assert memory.notes() == [
        ("fill-plug-opens", "foot-switch"),
        ("level-before-drain", "foot-switch"),
    ]


def test_board_confirms_goes_back_and_aborts(run: JobRun, memory: Memory) -> None:
    go(run, service(0.0, 60.0, 0.05))
    run.command(60.0, "back", None)
    assert run.take_marks() == [Step.PREPARE]
    run.command(61.0, "abort", None)
    assert run.is_done
    assert [one.outcome for one in memory.all if isinstance(one, JobClosed)] == ["aborted"]


def test_board_answers_a_gate_that_asks_for_more_than_yes(run: JobRun, memory: Memory) -> None:
    go(run, service(0.0, 5.0))
    with pytest.raises(ProcedureError, match="pan-and-filter"):
        run.command(5.0, "confirm", "pan-and-filter")
    run.command(5.0, "confirm", "pan-and-filter=stays-on")
    assert memory.notes() == [("pan-and-filter", "board")]
    assert [one.text for one in memory.all if isinstance(one, Note)] == ["stays-on"]


def test_there_is_no_way_back_from_the_first_step(run: JobRun) -> None:
    go(run, service(0.0, 5.0))
    with pytest.raises(ProcedureError, match="back"):
        run.command(5.0, "back", None)


def test_what_a_sensor_says_after_the_job_was_given_up_is_none_of_it(
    run: JobRun, memory: Memory
) -> None:
    run.command(12.0, "abort", None)
    run.feed(service(12.0, 13.0))
    assert isinstance(memory.all[-1], JobClosed)


def test_job_is_closed_once_and_its_result_told_before(run: JobRun, memory: Memory) -> None:
    go(run, service(0.0, 5.0))
    run.close(5.0, "done")
    run.close(6.0, "done")
    assert [type(one).__name__ for one in memory.all[-2:]] == ["ResultFormed", "JobClosed"]
    assert len(memory.told(JobClosed)) == 1


def test_gates_of_the_end_are_noted_before_the_job_is_closed(run: JobRun, memory: Memory) -> None:
    go(run, service(0.0, 60.0, 0.05))
    run.feed([StepMark(60.0, Step.DONE)])
    run.close(60.0, "done")
    noted = [key for key, by in memory.notes() if by == "kit"]
    assert "washers-renewed" in noted
    assert len(noted) == len(set(noted))
    assert [type(one).__name__ for one in memory.all[-3:]] == ["Note", "ResultFormed", "JobClosed"]


# --- a bench that says nothing ---------------------------------------------------------------


def test_bench_that_never_says_anything_is_a_fault(run: JobRun, memory: Memory) -> None:
    assert run.look(ALL_SILENT_S - 0.5) is None
    live = run.look(ALL_SILENT_S)
    assert live is not None
    assert live.faults == ("scale", "pan")
    assert cue_of(run) == "fault"
    assert memory.cues() == ["fault"]


def test_bench_that_falls_silent_is_a_fault_and_comes_back(run: JobRun) -> None:
    run.tick_gates(0.0, TICKS)
    go(run, service(0.0, 15.0))
    assert cue_of(run) == "go-on"
    run.look(15.0 + ALL_SILENT_S - 0.2)
    assert cue_of(run) == "go-on"
    run.look(15.0 + ALL_SILENT_S + 0.5)
    assert cue_of(run) == "fault"
    go(run, service(25.0, 32.0))
    assert cue_of(run) != "fault"


# --- taken up again ----------------------------------------------------------------------------


def history(memory: Memory) -> list[Body]:
    """What the spool gives back: packs of samples and the rest, in order."""
    told: list[Body] = []
    for one in memory.all:
        if isinstance(one, ScaleCount | PanReading | BoardReading | StepMark):
            told.append(Samples(base_time_s=0.0, is_clock_set=True, samples=(one,)))
        else:
            told.append(one)  # type: ignore[arg-type]  # all that is no sample is a body
    return told


def test_resumed_job_has_the_same_answer_and_the_same_cue(run: JobRun, memory: Memory) -> None:
    run.tick_gates(0.0, TICKS)
    whole = service(0.0, 60.0, 0.05)
    half = len(whole) // 4
    go(run, whole[:half])
    again = JobRun(job(), Memory())
    again.replay(history(memory))
    go(run, whole[half:])
    go(again, whole[half:])
    assert again.answer() == run.answer()
    plain = Service(job())
    for sample in whole:
        plain.feed(sample)
    assert run.answer() == plain.finish().to_dict()


def test_resumed_job_knows_the_answers_to_its_gates(run: JobRun, memory: Memory) -> None:
    go(run, service(0.0, 10.0))
    run.pressed(10.0)
    run.tick_gates(10.0, ["pan-and-filter=stays-on"])
    again = JobRun(job(), Memory())
    again.replay(history(memory))
    go(again, service(10.0, 15.0))
    assert cue_of(again) == "go-on"


def test_resumed_job_notes_nothing_a_second_time(run: JobRun, memory: Memory) -> None:
    go(run, service(0.0, 60.0, 0.05))
    second = Memory()
    again = JobRun(job(), second)
    again.replay(history(memory))
    go(again, service(60.0, 70.0, 0.05))
    assert second.notes() == []
    assert second.told(EventTold) == []
