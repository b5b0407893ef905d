"""The tables as such: complete, reachable, and with the direction that they promise."""

import pytest

from drainscale.procedure import guards
from drainscale.procedure.events import (
    MODE_EVENTS,
    STEP_EVENTS,
    Aborted,
    Back,
    CoolDown,
    CoolingEnded,
    EngineStarted,
    FlowBegan,
    FluidGoingIn,
    Marked,
    OutletShut,
    PanRose,
    Paused,
    PlugShut,
    Resumed,
    SecondFlowBegan,
    SpillBegan,
    StepEvent,
    TopUp,
    WorkEnded,
)
from drainscale.procedure.machine import after
from drainscale.procedure.situation import Situation
from drainscale.procedure.steps import ORDER, Mode, Step
from drainscale.procedure.table import MODES, TABLE
from drainscale.quantities.job import ProcedureLimits
from drainscale.quantities.samples import STEP_NAMES

SENSORS: tuple[type[StepEvent], ...] = tuple(
    kind for kind in STEP_EVENTS if kind not in (Marked, Back, TopUp, CoolDown)
)


# The moves that sensors and people may make, written down apart from the table: event, then where
# it is known and where it leads. Marks, going back and stays are tested with the machine.
EXPECTED: dict[type[StepEvent], dict[str, str]] = {
    FlowBegan: {"prepare": "drain", "refit": "drain"},
    SecondFlowBegan: {"drain": "drain-pan", "refit": "drain-pan"},
    OutletShut: {"drain": "refit", "drain-pan": "refit"},
    FluidGoingIn: dict.fromkeys(
        ("drain", "drain-pan", "refit", "circulate", "warm", "level", "seal"), "refill"
    ),
    EngineStarted: {"refit": "circulate", "refill": "circulate", "warm": "warm"},
    PanRose: dict.fromkeys(("refit", "refill", "circulate", "seal"), "warm"),
    SpillBegan: dict.fromkeys(("refill", "circulate", "warm", "seal"), "level"),
    PlugShut: {"level": "seal"},
    WorkEnded: {"seal": "done"},
    TopUp: dict.fromkeys(("circulate", "warm", "level", "seal"), "refill"),
    CoolDown: {
        "refit": "refit",
        "refill": "refill",
        "circulate": "circulate",
        "warm": "warm",
        "level": "warm",
        "seal": "warm",
    },
}


def make(kind: type[StepEvent]) -> StepEvent:
    assert not issubclass(kind, Marked)
    return kind()


def seen_by_sensors(limits: ProcedureLimits) -> set[Step]:
    """Walk the table by sensor events only, through every situation that differs in a guard."""
    seen = {Situation(limits)}
    todo = list(seen)
    while todo:
        now = todo.pop()
        for kind in SENSORS:
            then = after(now, make(kind))
            if then is not None:
                short = Situation(
                    limits,
                    then.step,
                    engine_has_run=then.engine_has_run,
                )
                if short not in seen:
                    seen.add(short)
                    todo.append(short)
    return {now.step for now in seen}


def backward_moves() -> set[tuple[Step, type[StepEvent], Step]]:
    return {
        (step, kind, move.to)
        for step, row in TABLE.items()
        for kind, move in row.items()
        if kind in SENSORS and isinstance(move.to, Step) and move.to.place < step.place
    }


def test_steps_are_those_of_a_recording_in_their_order() -> None:
    assert tuple(map(str, ORDER)) == STEP_NAMES


def test_every_step_and_mode_has_its_row() -> None:
    assert list(TABLE) == list(Step)
    assert list(MODES) == list(Mode)


def test_every_event_is_in_a_table() -> None:
    assert {kind for row in TABLE.values() for kind in row} == set(STEP_EVENTS)
    assert {kind for row in MODES.values() for kind in row} == set(MODE_EVENTS)


@pytest.mark.parametrize("kind", EXPECTED)
def test_an_event_is_known_where_it_makes_sense(kind: type[StepEvent]) -> None:
    known = {str(step): row[kind].to for step, row in TABLE.items() if kind in row}
    assert known == EXPECTED[kind]


def test_a_mark_and_going_back_are_known_in_every_step_but_the_last() -> None:
    before_the_end = set(Step) - {Step.DONE}
    assert {step for step, row in TABLE.items() if Marked in row} == before_the_end
    assert {step for step, row in TABLE.items() if Back in row} == before_the_end


def test_modes_change_as_they_should() -> None:
    working = {CoolDown: "cooling", Paused: "paused", Aborted: "aborted"}
    assert MODES[Mode.WORKING] == working
    assert MODES[Mode.COOLING] == {
        CoolingEnded: "working",
        Paused: "paused",
        Aborted: "aborted",
    }
    assert MODES[Mode.PAUSED] == {Resumed: "working", Aborted: "aborted"}


def test_every_guard_is_in_the_table() -> None:
    used = {move.guard.__name__ for row in TABLE.values() for move in row.values() if move.guard}
    defined = {
        name
        for name, thing in vars(guards).items()
        if callable(thing)
        and getattr(thing, "__module__", "") == guards.__name__
        and not name.startswith("_")
    }
    assert used == defined


def test_every_step_of_a_standpipe_unit_is_reached_without_a_mark(
    standpipe: ProcedureLimits,
) -> None:
    assert seen_by_sensors(standpipe) == set(Step)


def test_every_step_but_the_pan_stage_is_reached_on_a_check_plug_unit(
    check_plug: ProcedureLimits, check_hole: ProcedureLimits
) -> None:
    assert seen_by_sensors(check_plug) == set(Step) - {Step.DRAIN_PAN}
    assert seen_by_sensors(check_hole) == set(Step) - {Step.DRAIN_PAN}


def test_sensors_lead_back_only_for_more_fluid_or_out_of_what_was_inferred() -> None:
    more_fluid = {(step, kind, to) for step, kind, to in backward_moves() if kind is FluidGoingIn}
    assert {to for _, _, to in more_fluid} == {Step.REFILL}
    assert backward_moves() - more_fluid == {
        (Step.REFIT, FlowBegan, Step.DRAIN),
        (Step.REFIT, SecondFlowBegan, Step.DRAIN_PAN),
        (Step.SEAL, SpillBegan, Step.LEVEL),
        (Step.SEAL, PanRose, Step.WARM),
    }


@pytest.mark.parametrize(
    ("step", "kind"),
    [(s, k) for s, k, _ in sorted(backward_moves(), key=str) if k is not FluidGoingIn],
)
def test_a_person_s_word_is_not_taken_back_by_a_sensor(
    step: Step, kind: type[StepEvent], standpipe: ProcedureLimits, check_plug: ProcedureLimits
) -> None:
    units = (standpipe, check_plug)
    inferred = [after(Situation(limits, step), make(kind)) for limits in units]
    said = [after(Situation(limits, step, was_said=True), make(kind)) for limits in units]
    assert any(inferred)
    assert not any(said)


def test_nothing_moves_after_the_end() -> None:
    assert TABLE[Step.DONE] == {}
    assert MODES[Mode.ABORTED] == {}
