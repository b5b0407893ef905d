"""What a press of the foot switch means, step by step."""

from dataclasses import replace

import pytest
from tests.kit.agent.benches import order

from drainscale.agent.foot import press
from drainscale.procedure.cue_facts import Cue, CueName
from drainscale.procedure.gate_book import GateBook
from drainscale.procedure.gate_facts import GateFacts
from drainscale.procedure.gates import gates_of
from drainscale.procedure.moments import Group, Moment
from drainscale.procedure.steps import Step

LIMITS = order().procedure
CHECK_PLUG = replace(LIMITS, level_method="check-plug")


def book(*, is_prepared: bool = True, has_standpipe: bool = True) -> GateBook:
    limits = LIMITS if has_standpipe else CHECK_PLUG
    made = GateBook(limits)
    for gate in gates_of(limits):
        if is_prepared and gate.group is Group.BEFORE_DRAIN:
            made.tick(gate.id, gate.answers[0].key)
    return made


def ids(
    book_: GateBook, facts: GateFacts, cue: CueName, reason: str = ""
) -> tuple[set[str], Step | None]:
    meaning = press(book_, facts, Cue(cue, reason))
    return {gate.id for gate in meaning.answered}, meaning.step


def test_press_before_the_drain_ticks_what_can_be_ticked_and_chooses_no_answer() -> None:
    made = book(is_prepared=False)
    answered, step = ids(made, GateFacts(step=Step.PREPARE), CueName.WAIT)
    assert answered == {"fill-plug-opens", "level-before-drain"}
    assert step is None
    assert ids(made, GateFacts(step=Step.PREPARE), CueName.WAIT) == (set(), None)
    assert [gate.id for gate in made.asked(GateFacts(step=Step.PREPARE))] == ["pan-and-filter"]


def test_press_never_starts_the_drain() -> None:
    assert ids(book(), GateFacts(step=Step.PREPARE), CueName.GO_ON) == (set(), None)


def test_first_press_when_it_drips_means_the_standpipe_is_out() -> None:
    assert ids(book(), GateFacts(step=Step.DRAIN), CueName.GO_ON) == (set(), Step.DRAIN_PAN)


def test_second_press_means_the_outlet_is_closed_to_its_torque() -> None:
    made = book()
    facts = GateFacts(step=Step.DRAIN_PAN)
    assert ids(made, facts, CueName.GO_ON) == ({"standpipe-torqued"}, Step.REFIT)
    assert made.asked(GateFacts(step=Step.REFIT)) == []


def test_unit_without_a_standpipe_goes_from_drain_to_refit() -> None:
    made = book(has_standpipe=False)
    assert ids(made, GateFacts(step=Step.DRAIN), CueName.GO_ON) == (set(), Step.REFIT)


@pytest.mark.parametrize("cue", [CueName.WAIT, CueName.GET_READY, CueName.FAULT])
@pytest.mark.parametrize("step", [Step.DRAIN, Step.DRAIN_PAN])
def test_press_that_nothing_asked_for_means_nothing(step: Step, cue: CueName) -> None:
    assert ids(book(), GateFacts(step=step), cue) == (set(), None)


def filled(fluid_C: float) -> GateFacts:
    return GateFacts(step=Step.REFILL, fluid_C=fluid_C, drained_20C_L=3.0, added_20C_L=3.5)


def test_press_with_the_target_in_and_the_fluid_cold_begins_to_circulate() -> None:
    made = book()
    made.tick("standpipe-torqued")
    answered, step = ids(made, filled(20.0), CueName.GO_ON)
    assert answered == {"brake-held", "wheels-clear", "nobody-under"}
    assert step is Step.CIRCULATE


def short() -> GateFacts:
    return GateFacts(step=Step.REFILL, fluid_C=20.0, drained_20C_L=3.0, added_20C_L=0.4)


def test_foot_starts_no_engine_while_the_lamps_ask_for_fluid() -> None:
    made = book()
    made.tick("standpipe-torqued")
    assert ids(made, short(), CueName.ADD, "below-target") == (set(), None)
    answered, step = ids(made, filled(20.0), CueName.GO_ON)  # and nothing was answered by it
    assert answered == {"brake-held", "wheels-clear", "nobody-under"}
    assert step is Step.CIRCULATE


def test_who_goes_on_all_the_same_says_so_on_the_board_and_the_record_tells_it() -> None:
    made = book()
    made.tick("standpipe-torqued")
    meaning = press(made, short(), Cue(CueName.ADD, "below-target"), on_board=True)
    assert meaning.step is Step.CIRCULATE
    left = made.enter(replace(short(), step=Step.CIRCULATE, is_engine_on=True))
    assert "enough-back-in" in {gate.id for gate in left}


def test_press_does_not_override_a_fluid_that_is_too_warm() -> None:
    made = book()
    made.tick("standpipe-torqued")
    answered, _ = ids(made, filled(33.0), CueName.GET_READY)
    assert "cold-enough" not in answered
    assert [gate.id for gate in made.asked(filled(33.0))] == ["cold-enough"]


def test_press_with_the_engine_on_answers_what_stands_before_going_under() -> None:
    made = book()
    facts = GateFacts(step=Step.CIRCULATE, is_engine_on=True)
    answered, step = ids(made, facts, CueName.GET_READY)
    assert answered == {"selector-park", "parking-brake", "level-before-level", "engine-idling"}
    assert step is None


def under(made: GateBook) -> GateBook:
    for gate in (
        "standpipe-torqued",
        "selector-park",
        "parking-brake",
        "level-before-level",
        "engine-idling",
    ):
        made.tick(gate)
    return made


@pytest.mark.parametrize("step", [Step.CIRCULATE, Step.WARM, Step.REFILL])
def test_press_at_open_means_the_plug_is_open(step: Step) -> None:
    facts = GateFacts(step=step, is_engine_on=True)
    assert ids(under(book()), facts, CueName.OPEN) == (set(), Step.LEVEL)


@pytest.mark.parametrize(
    ("cue", "answered"), [(CueName.SHUT, {"check-plug-torqued"}), (CueName.STOP, set())]
)
def test_press_at_shut_means_shut_to_its_torque_and_at_stop_only_shut(
    cue: CueName, answered: set[str]
) -> None:
    facts = GateFacts(step=Step.LEVEL, is_engine_on=True)
    assert ids(under(book()), facts, cue) == (answered, Step.SEAL)


def test_unit_filled_through_its_hole_that_overflowed_goes_on_below_the_target() -> None:
    made = GateBook(replace(CHECK_PLUG, fill_via="check-plug"))
    for gate in made.gates:
        if gate.group is Group.BEFORE_DRAIN:
            made.tick(gate.id, gate.answers[0].key)
    meaning = press(made, short(), Cue(CueName.ADD, "below-target"))
    assert {"overflowed-engine-off", "brake-held"} <= {gate.id for gate in meaning.answered}
    assert meaning.step is Step.CIRCULATE


@pytest.mark.parametrize("cue", [CueName.WAIT, CueName.GET_READY, CueName.ADD])
@pytest.mark.parametrize("step", [Step.CIRCULATE, Step.WARM])
def test_press_before_open_does_not_say_that_the_plug_is_open(step: Step, cue: CueName) -> None:
    facts = GateFacts(step=step, is_engine_on=True)
    assert ids(under(book()), facts, cue) == (set(), None)


def test_press_while_it_spills_means_nothing() -> None:
    facts = GateFacts(step=Step.LEVEL, is_engine_on=True)
    assert ids(under(book()), facts, CueName.WAIT) == (set(), None)


def test_press_at_the_end_answers_the_list_and_is_done() -> None:
    made = under(book())
    facts = GateFacts(step=Step.SEAL, is_engine_on=True)
    steps: list[Step | None] = []
    seen: set[str] = set()
    for _ in range(3):
        answered, step = ids(made, facts, CueName.GO_ON)
        seen |= answered
        steps.append(step)
        if step is Step.DONE:
            break
    assert steps[-1] is Step.DONE
    assert len(steps) <= 2  # one for the plug's torque with the engine on, one for the list
    assert {"check-plug-torqued", "plugs-torqued", "washers-renewed", "wiped-dry"} <= seen


SEALED = GateFacts(step=Step.SEAL, is_engine_on=True)


def test_press_after_a_failed_attempt_says_torqued_and_then_that_it_cools() -> None:
    made = under(book())
    failed = (SEALED, CueName.GET_READY, "start-over")
    assert ids(made, *failed) == ({"check-plug-torqued"}, None)
    assert ids(made, *failed) == (set(), Step.WARM)


def test_press_after_a_failed_attempt_ends_the_job_once_the_list_is_ticked() -> None:
    made = under(book())
    for gate in made.gates:
        if gate.before in (Moment.STOP_ENGINE, Moment.END):
            made.tick(gate.id)
    assert ids(made, SEALED, CueName.GET_READY, "start-over") == (set(), Step.DONE)


def test_press_while_it_cools_means_nothing_until_the_gate_is_overridden() -> None:
    made = book()
    facts = GateFacts(step=Step.WARM, fluid_C=38.0, drained_20C_L=3.0, added_20C_L=3.5)
    assert ids(made, facts, CueName.WAIT, "cooling") == (set(), None)
    made.tick("cold-enough")  # on the board, meant
    answered, step = ids(made, facts, CueName.WAIT, "cooling")
    assert {"brake-held", "wheels-clear", "nobody-under"} <= answered
    assert step is Step.CIRCULATE


def test_press_above_the_window_says_that_it_cools() -> None:
    facts = GateFacts(step=Step.WARM, is_engine_on=True)
    assert ids(book(), facts, CueName.GET_READY, "window-missed") == (set(), Step.WARM)
