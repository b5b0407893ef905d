"""Which cue is due: one situation for each reason, then who wins when two are due."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.procedure.cue_facts import Cue, CueName, Facts, PlugState, Window
from drainscale.procedure.cue_rules import HELD_AS, REASONS, RULES
from drainscale.procedure.cues import decide
from drainscale.procedure.steps import Mode, Step
from drainscale.signals.vocabulary import vocabulary

PREPARE = Facts(step=Step.PREPARE)
DRAIN = Facts(step=Step.DRAIN, is_flowing=True)
REFIT = Facts(step=Step.REFIT, has_dripped=True)
REFILL = Facts(step=Step.REFILL, drained_L=4.0, target_L=4.6, added_L=1.0)
CIRCULATE = Facts(step=Step.CIRCULATE, drained_L=4.0, added_L=4.6, window=Window.BELOW)
WARM = Facts(step=Step.WARM, drained_L=4.0, added_L=4.6, window=Window.BELOW)
LEVEL = Facts(
    step=Step.LEVEL,
    plug_state=PlugState.OPEN,
    window=Window.IN,
    is_open_due=True,
    is_flowing=True,
    is_engine_running=True,
)
SEAL = Facts(step=Step.SEAL, plug_state=PlugState.SHUT, window=Window.IN)

ONE_FOR_EACH = {
    "container-overflows": replace(DRAIN, is_container_full=True),
    "done": Facts(step=Step.DONE),
    "aborted": replace(WARM, mode=Mode.ABORTED),
    "cooling-but-open": replace(LEVEL, mode=Mode.COOLING),
    "thin": replace(LEVEL, is_close_due=True),
    "engine-off": replace(LEVEL, is_engine_running=False),
    "window-closing": replace(LEVEL, is_window_closing=True, window=Window.CLOSING),
    "paused": replace(DRAIN, mode=Mode.PAUSED, is_flowing=False),
    "cooling": replace(WARM, mode=Mode.COOLING, window=Window.ABOVE),
    "sensor-fault": replace(DRAIN, has_sensor_fault=True),
    "no-spill": replace(LEVEL, is_no_spill=True, is_flowing=False),
    "in-window": replace(WARM, is_open_due=True, window=Window.IN),
    "window-missed": replace(WARM, window=Window.ABOVE),
    "start-again": replace(WARM, awaits_restart=True),
    "less-than-drained": replace(WARM, added_L=3.0),
    "will-overrun": replace(LEVEL, will_overrun=True),
    "thin-soon": replace(LEVEL, is_thin_soon=True),
    "empty-container": replace(REFIT, is_container_full=True),
    "start-over": replace(SEAL, is_attempt_failed=True),
    "window-near": replace(WARM, window=Window.NEAR),
    "ready-to-drain": PREPARE,
    "dripped": replace(DRAIN, has_dripped=True),
    "draining": DRAIN,
    "refit": REFIT,
    "below-target": REFILL,
    "refill-reached": replace(REFILL, added_L=4.6, is_refill_reached=True),
    "filling": replace(REFILL, is_going_in=True),
    "shift": CIRCULATE,
    "warming": WARM,
    "too-early": replace(LEVEL, window=Window.BELOW, is_open_due=False),
    "spilling": LEVEL,
    "seal": SEAL,
}

any_facts = st.builds(
    Facts,
    step=st.sampled_from(Step),
    mode=st.sampled_from(Mode),
    plug_state=st.sampled_from(PlugState),
    window=st.sampled_from(Window),
    drained_L=st.none() | st.floats(0.0, 12.0),
    added_L=st.none() | st.floats(0.0, 12.0),
    target_L=st.none() | st.floats(0.0, 12.0),
    is_engine_running=st.none() | st.booleans(),
    **{name: st.booleans() for name, kind in Facts.__annotations__.items() if kind is bool},
    held=st.dictionaries(st.sampled_from(CueName), st.just("gate")),
)


def test_cues_are_those_that_the_signals_know() -> None:
    assert {str(name) for name in CueName} == set(vocabulary().cues)


def test_reasons_are_unique_and_each_has_its_example() -> None:
    assert len(REASONS) == len(RULES)
    assert set(ONE_FOR_EACH) == set(REASONS)


@pytest.mark.parametrize("reason", ONE_FOR_EACH)
def test_each_reason_can_win(reason: str) -> None:
    cue = next(rule.cue for rule in RULES if rule.reason == reason)
    assert decide(ONE_FOR_EACH[reason]) == Cue(cue, reason)


@given(any_facts)
def test_there_is_a_cue_for_any_facts(facts: Facts) -> None:
    cue = decide(facts)
    assert cue.reason in REASONS or cue.reason == "gate"


@given(any_facts)
def test_no_gate_holds_back_what_cannot_wait(facts: Facts) -> None:
    free = decide(replace(facts, held={}))
    held = decide(facts)
    if free.name in (CueName.STOP, CueName.SHUT, CueName.FAULT, CueName.GET_READY, CueName.WAIT):
        assert held == free
    elif free.name in facts.held:
        assert held == Cue(HELD_AS[free.name], "gate")


@given(any_facts)
def test_no_cue_to_open_while_somebody_has_stopped_or_the_fluid_is_out_of_the_window(
    facts: Facts,
) -> None:
    if facts.mode is not Mode.WORKING or not facts.is_open_due:
        assert decide(facts).name is not CueName.OPEN


@given(any_facts)
def test_a_wait_for_the_fluid_to_cool_is_silent_but_for_danger(facts: Facts) -> None:
    cue = decide(replace(facts, mode=Mode.COOLING)).name
    is_calm = facts.plug_state is PlugState.SHUT and not facts.is_flowing
    if is_calm and facts.step is not Step.DONE:
        assert cue is CueName.WAIT


def test_an_overflow_goes_before_everything() -> None:
    facts = replace(LEVEL, is_container_full=True, is_close_due=True, has_sensor_fault=True)
    assert decide(facts).name is CueName.STOP


def test_an_open_plug_goes_before_a_sensor_s_fault() -> None:
    facts = replace(LEVEL, is_window_closing=True, has_sensor_fault=True)
    assert decide(facts).name is CueName.SHUT
    assert decide(replace(facts, plug_state=PlugState.SHUT)).name is CueName.FAULT


def test_a_thin_stream_is_the_reason_even_as_the_window_closes() -> None:
    facts = replace(LEVEL, is_close_due=True, is_window_closing=True)
    assert decide(facts).reason == "thin"


def test_an_open_plug_above_the_window_is_to_be_shut() -> None:
    assert decide(replace(LEVEL, window=Window.ABOVE)) == Cue(CueName.SHUT, "window-closing")


def test_the_cue_to_shut_ends_when_the_plug_is_shut() -> None:
    facts = replace(LEVEL, is_close_due=True, plug_state=PlugState.SHUT)
    assert decide(facts).name is not CueName.SHUT


def test_the_cue_to_add_ends_while_fluid_goes_in() -> None:
    facts = replace(LEVEL, is_no_spill=True, is_flowing=False)
    assert decide(replace(facts, step=Step.REFILL, is_going_in=True)).reason == "filling"


def test_a_topped_up_unit_in_the_window_is_opened_once_nothing_goes_in_any_more() -> None:
    topped_up = replace(REFILL, is_refill_reached=True, is_open_due=True, window=Window.IN)
    running = replace(topped_up, is_engine_running=True)
    assert decide(running).name is CueName.OPEN
    assert decide(replace(running, is_going_in=True)).name is not CueName.OPEN


def test_a_first_fill_that_is_warm_is_not_opened() -> None:
    warm = replace(REFILL, is_refill_reached=True, is_open_due=True, is_engine_running=False)
    assert decide(warm).reason == "refill-reached"


def test_a_check_hole_that_stands_open_while_it_is_filled_is_left_open() -> None:
    filling = replace(REFILL, plug_state=PlugState.OPEN, is_engine_running=False)
    assert decide(replace(filling, is_check_hole_fill=True)).name is CueName.ADD


def test_fluid_above_the_window_is_missed_only_with_the_engine_running() -> None:
    hot = replace(REFILL, window=Window.ABOVE)
    assert decide(replace(hot, is_engine_running=True)).reason == "window-missed"
    assert decide(replace(hot, is_engine_running=False)).reason == "below-target"
    assert decide(replace(DRAIN, window=Window.ABOVE, is_engine_running=True)).reason == "draining"


def test_a_full_container_is_emptied_at_leisure_once_the_plug_is_shut() -> None:
    assert decide(replace(LEVEL, is_container_full=True, is_flowing=False)).reason == (
        "empty-container"
    )
    assert decide(replace(SEAL, is_container_full=True)).reason == "seal"


def test_as_much_as_drained_is_not_less() -> None:
    assert decide(replace(WARM, drained_L=4.0, added_L=4.0)).reason == "warming"


def test_less_than_drained_is_right_for_a_unit_filled_through_its_check_hole() -> None:
    facts = replace(CIRCULATE, added_L=3.0)
    assert decide(facts).reason == "less-than-drained"
    assert decide(replace(facts, is_check_hole_fill=True)).reason == "shift"


@pytest.mark.parametrize(
    ("facts", "cue", "shown"),
    [
        (PREPARE, CueName.GO_ON, CueName.GET_READY),
        (REFILL, CueName.ADD, CueName.GET_READY),
        (replace(WARM, is_open_due=True), CueName.OPEN, CueName.GET_READY),
    ],
)
def test_a_cue_held_back_gives_way_and_names_the_gate(
    facts: Facts, cue: CueName, shown: CueName
) -> None:
    assert decide(facts).name is cue
    assert decide(replace(facts, held={cue: "some-gate"})) == Cue(shown, "some-gate")
