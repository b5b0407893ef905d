"""Answering gates: what is held back, what a press may do, what the record says."""

from dataclasses import replace

import pytest

from drainscale.errors import ProcedureError
from drainscale.procedure.cue_facts import CueName
from drainscale.procedure.gate_book import GateBook, Outcome
from drainscale.procedure.gate_facts import GateFacts
from drainscale.procedure.gates import GATE_BY_ID, Gate
from drainscale.procedure.steps import Step
from drainscale.quantities.job import ProcedureLimits

FILLED = GateFacts(step=Step.REFILL, fluid_C=20.0, drained_20C_L=4.0, added_20C_L=4.6)
TOO_WARM = replace(FILLED, fluid_C=33.0)
WARMING = replace(FILLED, step=Step.WARM, is_engine_on=True, is_engine_running=True)
SEALED = GateFacts(step=Step.SEAL, is_engine_on=True, is_recorded=True)


@pytest.fixture
def book(standpipe: ProcedureLimits) -> GateBook:
    return GateBook(standpipe)


def ids(gates: list[Gate]) -> list[str]:
    return [gate.id for gate in gates]


def outcomes(book: GateBook) -> dict[str, Outcome]:
    return {note.gate_id: note.outcome for note in book.notes}


def test_nothing_but_the_fill_opening_and_the_lift_is_asked_before_the_drain(
    book: GateBook,
) -> None:
    now = GateFacts(step=Step.PREPARE)
    assert ids(book.holds_back(Step.DRAIN, now)) == [
        "fill-plug-opens",
        "level-before-drain",
        "pan-and-filter",
    ]
    assert book.held_cues(now) == {CueName.GO_ON: "fill-plug-opens"}


def test_an_answered_gate_holds_nothing_back_until_it_is_taken_back(book: GateBook) -> None:
    now = GateFacts(step=Step.REFIT)
    book.tick("standpipe-torqued")
    assert book.holds_back(Step.REFILL, now) == []
    assert book.held_cues(now) == {}
    book.take_back("standpipe-torqued")
    assert ids(book.holds_back(CueName.ADD, now)) == ["standpipe-torqued"]


def test_urgent_cues_are_never_held_back(book: GateBook) -> None:
    for step in Step:
        held = book.held_cues(GateFacts(step=step))
        assert not held.keys() & {CueName.STOP, CueName.SHUT, CueName.FAULT, CueName.WAIT}


def test_a_gate_of_another_unit_cannot_be_answered(book: GateBook) -> None:
    with pytest.raises(ProcedureError, match=r"gate overflowed-engine-off: this unit has none"):
        book.tick("overflowed-engine-off")
    with pytest.raises(ProcedureError, match=r"gate no-such"):
        book.take_back("no-such")


def test_an_unknown_answer_is_refused(book: GateBook) -> None:
    with pytest.raises(ProcedureError, match=r"answer 'yes' is none of stays-on, weighed-apart"):
        book.tick("pan-and-filter")


def test_a_start_that_is_too_warm_is_held_back(book: GateBook) -> None:
    book.tick("standpipe-torqued")
    assert "cold-enough" in ids(book.holds_back(Step.CIRCULATE, TOO_WARM))
    assert "cold-enough" not in ids(book.holds_back(Step.CIRCULATE, FILLED))
    assert book.held_cues(TOO_WARM)[CueName.GO_ON] == "cold-enough"


def test_a_start_that_is_too_warm_may_be_confirmed_and_is_noted(book: GateBook) -> None:
    book.tick("cold-enough")
    assert "cold-enough" not in ids(book.holds_back(Step.CIRCULATE, TOO_WARM))
    book.enter(replace(TOO_WARM, step=Step.CIRCULATE, is_engine_on=True))
    assert outcomes(book)["cold-enough"] is Outcome.OVERRIDDEN


def test_less_than_drained_cannot_be_overridden_only_confirmed_unmeasured(
    book: GateBook,
) -> None:
    gate = GATE_BY_ID["enough-back-in"]
    book.tick(gate.id)
    assert book.outcome(gate, replace(FILLED, added_20C_L=3.9)) is Outcome.UNANSWERED
    assert book.outcome(gate, replace(FILLED, added_20C_L=None)) is Outcome.CONFIRMED
    assert book.outcome(gate, FILLED) is Outcome.MEASURED


def test_a_press_answers_all_that_is_asked_at_one_moment(book: GateBook) -> None:
    assert ids(book.press(FILLED)) == ["standpipe-torqued"]
    assert ids(book.press(FILLED)) == ["brake-held", "wheels-clear", "nobody-under"]
    assert book.press(FILLED) == []


def test_a_press_confirms_what_cannot_be_measured(check_hole: ProcedureLimits) -> None:
    book = GateBook(check_hole)
    pressed = book.press(GateFacts(step=Step.REFILL, fluid_C=20.0))
    assert ids(pressed)[0] == "overflowed-engine-off"
    assert book.held_cues(GateFacts(step=Step.REFILL, fluid_C=20.0)) == {}


def test_a_press_overrides_no_measurement(book: GateBook) -> None:
    book.tick("standpipe-torqued")
    book.press(TOO_WARM)
    assert ids(book.holds_back(Step.CIRCULATE, TOO_WARM)) == ["cold-enough"]


def test_a_press_does_not_choose_between_answers(book: GateBook) -> None:
    now = GateFacts(step=Step.PREPARE)
    book.press(now)
    assert ids(book.asked(now)) == ["pan-and-filter"]


def test_going_under_is_asked_only_with_the_engine_on(book: GateBook) -> None:
    book.tick("standpipe-torqued")
    book.press(FILLED)
    assert book.asked(FILLED) == []
    assert ids(book.asked(WARMING)) == ["selector-park", "parking-brake", "level-before-level"]
    assert book.held_cues(WARMING) == {CueName.OPEN: "selector-park"}


def test_a_topping_up_asks_what_is_asked_before_going_under(book: GateBook) -> None:
    topping_up = replace(WARMING, step=Step.REFILL)
    book.tick("standpipe-torqued")
    assert ids(book.asked(topping_up))[0] == "selector-park"


def test_an_engine_that_is_seen_to_be_off_holds_back_the_opening(book: GateBook) -> None:
    book.press(WARMING)
    assert book.holds_back(CueName.OPEN, WARMING) == []
    stalled = replace(WARMING, is_engine_running=False)
    assert ids(book.holds_back(CueName.OPEN, stalled)) == ["engine-idling"]


def test_the_engine_stays_on_until_the_plug_is_torqued(book: GateBook) -> None:
    assert book.held_cues(SEALED) == {CueName.GO_ON: "check-plug-torqued"}
    book.press(SEALED)
    assert book.held_cues(SEALED) == {}


def test_the_job_is_closed_only_with_its_list_complete(book: GateBook) -> None:
    book.press(SEALED)
    assert ids(book.holds_back(Step.DONE, SEALED)) == [
        "plugs-torqued",
        "washers-renewed",
        "wiped-dry",
        "used-oil-logged",
    ]
    book.press(SEALED)
    assert book.holds_back(Step.DONE, SEALED) == []


def test_volumes_that_are_missing_have_to_be_owned_up_to(book: GateBook) -> None:
    missing = replace(SEALED, is_recorded=False)
    book.press(missing)
    book.press(missing)
    assert ids(book.holds_back(Step.DONE, missing)) == ["volumes-recorded"]
    book.tick("volumes-recorded")
    assert book.holds_back(Step.DONE, missing) == []


def test_what_was_passed_without_an_answer_is_noted_once(book: GateBook) -> None:
    left = book.enter(GateFacts(step=Step.DRAIN))
    assert ids(left) == ["fill-plug-opens", "level-before-drain", "pan-and-filter"]
    assert book.enter(GateFacts(step=Step.DRAIN)) == []
    assert set(outcomes(book).values()) == {Outcome.UNANSWERED}


def test_an_answer_afterwards_is_noted_as_late(book: GateBook) -> None:
    book.enter(GateFacts(step=Step.DRAIN))
    book.tick("level-before-drain")
    assert book.notes[-1].outcome is Outcome.LATE
    assert book.notes[-1].step is Step.DRAIN


def test_skipped_steps_are_noted_when_the_next_one_begins(book: GateBook) -> None:
    left = book.enter(WARMING)
    assert {"fill-plug-opens", "standpipe-torqued", "brake-held"} <= set(ids(left))
    assert "selector-park" not in ids(left)


def test_unanswered_is_asked_without_writing_the_record(book: GateBook) -> None:
    book.tick("brake-held")
    left = ids(book.unanswered(Step.CIRCULATE, replace(WARMING, step=Step.CIRCULATE)))
    assert "wheels-clear" in left
    assert "brake-held" not in left
    assert book.notes == ()


def test_the_answer_about_pan_and_filter_stands_on_the_record(book: GateBook) -> None:
    book.tick("pan-and-filter", "not-weighed")
    book.enter(GateFacts(step=Step.DRAIN))
    note = next(note for note in book.notes if note.gate_id == "pan-and-filter")
    assert note.answer is not None
    assert note.answer.record == "oil in pan and filter not weighed"


def test_starting_over_asks_again_and_keeps_the_record(book: GateBook) -> None:
    book.tick("standpipe-torqued")
    book.press(FILLED)
    book.enter(replace(FILLED, step=Step.CIRCULATE, is_engine_on=True))
    notes = book.notes
    book.start_over()
    cooled = replace(FILLED, step=Step.WARM)
    assert ids(book.asked(cooled)) == ["brake-held", "wheels-clear", "nobody-under"]
    assert book.notes == notes
    # waiting in warm with the engine off is not yet a start
    assert book.enter(cooled) == []
    assert "brake-held" in ids(book.enter(WARMING))
