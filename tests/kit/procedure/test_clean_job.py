"""A whole job on procedure and gates together: what the foot has to do, and when."""

import pytest

from drainscale.procedure.events import (
    EngineStarted,
    Event,
    FlowBegan,
    FluidGoingIn,
    OutletShut,
    PanRose,
    PlugShut,
    SecondFlowBegan,
    SpillBegan,
    WorkEnded,
)
from drainscale.procedure.gate_book import GateBook, Outcome
from drainscale.procedure.gate_facts import GateFacts
from drainscale.procedure.machine import Procedure
from drainscale.procedure.steps import Step
from drainscale.quantities.job import ProcedureLimits

SEEN: tuple[Event, ...] = (
    FlowBegan(),
    SecondFlowBegan(),
    OutletShut(),
    FluidGoingIn(),
    EngineStarted(),
    PanRose(),
    SpillBegan(),
    PlugShut(),
)


class Bench:
    """A technician who answers the board before the drain, and presses when asked."""

    def __init__(self, limits: ProcedureLimits) -> None:
        self.procedure = Procedure(limits)
        self.book = GateBook(limits)
        self.presses: list[Step] = []

    @property
    def facts(self) -> GateFacts:
        now = self.procedure.now
        is_filled = now.step.place >= Step.REFILL.place
        return GateFacts(
            step=now.step,
            fluid_C=22.0,
            drained_20C_L=4.0,
            added_20C_L=4.7 if is_filled else 0.0,
            is_engine_on=now.is_engine_on,
            is_recorded=now.step.place >= Step.SEAL.place,
        )

    def answer_the_board(self) -> None:
        for gate in self.book.asked(self.facts):
            self.book.tick(gate.id, gate.answers[0].key)

    def press_until_nothing_is_asked(self) -> None:
        while self.book.asked(self.facts):
            assert self.book.press(self.facts), "a press answers nothing"
            self.presses.append(self.procedure.step)

    def happens(self, event: Event) -> None:
        if self.procedure.allows(event):
            self.procedure.apply(event)
            self.book.enter(self.facts)


def clean_job(limits: ProcedureLimits) -> Bench:
    bench = Bench(limits)
    bench.answer_the_board()
    for event in SEEN:
        bench.press_until_nothing_is_asked()
        bench.happens(event)
    bench.press_until_nothing_is_asked()
    return bench


@pytest.mark.parametrize(
    ("unit", "presses"),
    [
        ("standpipe", [Step.REFIT, Step.REFILL, Step.CIRCULATE, Step.SEAL, Step.SEAL]),
        ("check_plug", [Step.REFILL, Step.CIRCULATE, Step.SEAL, Step.SEAL]),
        ("check_hole", [Step.REFILL, Step.CIRCULATE, Step.SEAL, Step.SEAL]),
    ],
)
def test_a_clean_job_is_done_with_five_presses_at_most(
    unit: str, presses: list[Step], request: pytest.FixtureRequest
) -> None:
    bench = clean_job(request.getfixturevalue(unit))
    assert bench.presses == presses
    assert len(bench.presses) <= 5
    assert bench.book.holds_back(Step.DONE, bench.facts) == []
    bench.happens(WorkEnded())
    assert bench.procedure.step is Step.DONE


def test_a_clean_job_leaves_no_gate_unanswered_on_the_record(standpipe: ProcedureLimits) -> None:
    bench = clean_job(standpipe)
    bench.happens(WorkEnded())
    notes = {note.gate_id: note.outcome for note in bench.book.notes}
    assert set(notes) == {gate.id for gate in bench.book.gates}
    assert set(notes.values()) == {Outcome.TICKED, Outcome.MEASURED, Outcome.CONFIRMED}


def test_steps_do_not_depend_on_ticks(standpipe: ProcedureLimits) -> None:
    ticked, unticked = clean_job(standpipe), Bench(standpipe)
    for event in SEEN:
        unticked.happens(event)
    assert unticked.procedure.now == ticked.procedure.now
    assert unticked.book.held_cues(unticked.facts)
