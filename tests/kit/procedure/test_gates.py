"""The gates as data: all there, on the right units, asked at the right moment."""

import pytest

from drainscale.procedure.gate_facts import (
    GateFacts,
    cold_start_limit_C,
    drained_is_back_in,
    fluid_is_cold_enough,
    target_is_in,
)
from drainscale.procedure.gates import (
    GATE_BY_ID,
    GATES,
    Override,
    gates_of,
    presses_of_a_clean_job,
)
from drainscale.procedure.moments import HOLDS, Group, Moment
from drainscale.procedure.steps import Step
from drainscale.quantities.job import ProcedureLimits

# What has to be so, and before what. Source: common practice of the trade, no source.
ON_EVERY_UNIT = {
    "level-before-drain": Moment.OPEN_DRAIN,
    "pan-and-filter": Moment.OPEN_DRAIN,
    "cold-enough": Moment.START_ENGINE,
    "brake-held": Moment.START_ENGINE,
    "wheels-clear": Moment.START_ENGINE,
    "nobody-under": Moment.START_ENGINE,
    "selector-park": Moment.GO_UNDER,
    "parking-brake": Moment.GO_UNDER,
    "level-before-level": Moment.GO_UNDER,
    "engine-idling": Moment.GO_UNDER,
    "check-plug-torqued": Moment.STOP_ENGINE,
    "plugs-torqued": Moment.END,
    "washers-renewed": Moment.END,
    "wiped-dry": Moment.END,
    "volumes-recorded": Moment.END,
    "used-oil-logged": Moment.END,
}
WITH_A_FILL_PLUG = {"fill-plug-opens": Moment.OPEN_DRAIN, "enough-back-in": Moment.START_ENGINE}
THROUGH_THE_CHECK_HOLE = {
    "check-hole-opens": Moment.OPEN_DRAIN,
    "overflowed-engine-off": Moment.START_ENGINE,
    "target-in": Moment.GO_UNDER,
}
WITH_A_STANDPIPE = {"standpipe-torqued": Moment.FILL}


def moments(limits: ProcedureLimits) -> dict[str, Moment]:
    return {gate.id: gate.before for gate in gates_of(limits)}


def facts(**known: float) -> GateFacts:
    return GateFacts(
        step=Step.REFILL,
        fluid_C=known.get("fluid_C"),
        drained_20C_L=known.get("drained_L"),
        added_20C_L=known.get("added_L"),
    )


def test_standpipe_unit_has_its_gates(standpipe: ProcedureLimits) -> None:
    assert moments(standpipe) == ON_EVERY_UNIT | WITH_A_FILL_PLUG | WITH_A_STANDPIPE


def test_check_plug_unit_has_its_gates(check_plug: ProcedureLimits) -> None:
    assert moments(check_plug) == ON_EVERY_UNIT | WITH_A_FILL_PLUG


def test_check_hole_unit_has_its_gates(check_hole: ProcedureLimits) -> None:
    assert moments(check_hole) == ON_EVERY_UNIT | THROUGH_THE_CHECK_HOLE


def test_ids_are_unique() -> None:
    assert len(GATE_BY_ID) == len(GATES)


def test_every_moment_has_gates_and_holds_something_back() -> None:
    assert {gate.before for gate in GATES} == set(Moment) == set(HOLDS)


def test_ticks_are_grouped_before_the_drain_and_after_the_seal() -> None:
    groups = {gate.id: gate.group for gate in GATES}
    assert {i for i, group in groups.items() if group is Group.BEFORE_DRAIN} == {
        "fill-plug-opens",
        "check-hole-opens",
        "level-before-drain",
        "pan-and-filter",
    }
    assert {i for i, group in groups.items() if group is Group.AFTER_SEAL} == {
        "plugs-torqued",
        "washers-renewed",
        "wiped-dry",
        "volumes-recorded",
        "used-oil-logged",
    }


def test_measured_gates_are_these() -> None:
    assert {gate.id: gate.override for gate in GATES if not gate.is_tick} == {
        "cold-enough": Override.ALWAYS,
        "enough-back-in": Override.IF_UNKNOWN,
        "overflowed-engine-off": Override.IF_UNKNOWN,
        "engine-idling": Override.IF_UNKNOWN,
        "target-in": Override.ALWAYS,
        "volumes-recorded": Override.ALWAYS,
    }


def test_oil_that_never_reaches_the_scale_is_said_to_be_not_weighed() -> None:
    question = GATE_BY_ID["pan-and-filter"]
    said = {answer.key: answer.record for answer in question.answers}
    assert set(said) == {"stays-on", "weighed-apart", "allowance-raised", "not-weighed"}
    assert "not weighed" in said["not-weighed"]
    assert "not weighed" in said["allowance-raised"]
    assert [gate.id for gate in GATES if gate.is_question] == ["pan-and-filter"]


# Source: common practice, no source: 5 K below the window. Windows of 35 to 45 and 60 to 70 °C.
@pytest.mark.parametrize(
    ("low_C", "fluid_C", "is_so"),
    [(35.0, 30.0, True), (35.0, 30.1, False), (60.0, 55.0, True), (60.0, 55.5, False)],
)
def test_engine_starts_five_kelvin_below_the_window(
    low_C: float, fluid_C: float, is_so: bool
) -> None:
    limits = ProcedureLimits("standpipe", (low_C, low_C + 10.0), 0.6, 60.0, 3.0)
    assert cold_start_limit_C(limits) == low_C - 5.0
    assert fluid_is_cold_enough(facts(fluid_C=fluid_C), limits) is is_so


def test_what_was_not_measured_is_not_known(standpipe: ProcedureLimits) -> None:
    assert fluid_is_cold_enough(facts(), standpipe) is None
    assert drained_is_back_in(facts(added_L=4.0), standpipe) is None
    assert target_is_in(facts(drained_L=4.0), standpipe) is None


@pytest.mark.parametrize(
    ("added_L", "is_back", "is_target"),
    [(3.99, False, False), (4.0, True, False), (4.59, True, False), (4.61, True, True)],
)
def test_added_is_held_against_drained_and_against_the_target(
    added_L: float, is_back: bool, is_target: bool, standpipe: ProcedureLimits
) -> None:
    known = facts(drained_L=4.0, added_L=added_L)
    assert drained_is_back_in(known, standpipe) is is_back
    assert target_is_in(known, standpipe) is is_target


def test_a_clean_job_needs_five_presses_at_most(
    standpipe: ProcedureLimits, check_plug: ProcedureLimits, check_hole: ProcedureLimits
) -> None:
    without_standpipe = (Moment.START_ENGINE, Moment.GO_UNDER, Moment.STOP_ENGINE, Moment.END)
    assert presses_of_a_clean_job(standpipe) == (Moment.FILL, *without_standpipe)
    assert presses_of_a_clean_job(check_plug) == without_standpipe
    assert presses_of_a_clean_job(check_hole) == without_standpipe
