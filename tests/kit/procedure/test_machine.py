"""One service on its way: forward, back, round again, stopped, given up."""

import pytest

from drainscale.errors import ProcedureError
from drainscale.procedure.events import (
    Aborted,
    Back,
    CoolDown,
    CoolingEnded,
    EngineStarted,
    Event,
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
    TopUp,
    WorkEnded,
)
from drainscale.procedure.machine import Procedure
from drainscale.procedure.steps import ORDER, Mode, Step
from drainscale.quantities.job import ProcedureLimits

STANDPIPE_JOB: tuple[Event, ...] = (
    FlowBegan(),
    SecondFlowBegan(),
    OutletShut(),
    FluidGoingIn(),
    EngineStarted(),
    PanRose(),
    SpillBegan(),
    PlugShut(),
    WorkEnded(),
)


def service(limits: ProcedureLimits, *events: Event) -> Procedure:
    started = Procedure(limits)
    for event in events:
        started.apply(event)
    return started


def way(limits: ProcedureLimits, *events: Event) -> list[Step]:
    started = Procedure(limits)
    return [started.step, *(started.apply(event) for event in events)]


def allowed_of(started: Procedure, *events: Event) -> list[Event]:
    return [event for event in events if started.allows(event)]


def test_sensors_alone_lead_through_all_steps(standpipe: ProcedureLimits) -> None:
    assert way(standpipe, *STANDPIPE_JOB) == list(Step)


def test_check_plug_unit_drains_in_one_stage(check_plug: ProcedureLimits) -> None:
    one_stage = tuple(event for event in STANDPIPE_JOB if event != SecondFlowBegan())
    expected = [step for step in Step if step is not Step.DRAIN_PAN]
    assert way(check_plug, *one_stage) == expected


def test_marks_alone_lead_through_all_steps(standpipe: ProcedureLimits) -> None:
    assert way(standpipe, *map(Marked, ORDER[1:])) == list(Step)


@pytest.mark.parametrize("step", [step for step in Step if step is not Step.PREPARE])
def test_a_mark_may_skip_forward_to_any_step(step: Step, standpipe: ProcedureLimits) -> None:
    assert Procedure(standpipe).apply(Marked(step)) is step


@pytest.mark.parametrize("step", [step for step in Step if step is not Step.DONE])
def test_a_mark_may_go_back_to_any_step(step: Step, standpipe: ProcedureLimits) -> None:
    assert service(standpipe, Marked(Step.SEAL)).apply(Marked(step)) is step


def test_a_mark_of_the_present_step_is_legal_and_stays(standpipe: ProcedureLimits) -> None:
    started = service(standpipe, FlowBegan(), Marked(Step.DRAIN))
    assert started.step is Step.DRAIN
    assert started.now.behind == (Step.PREPARE,)


def test_check_plug_unit_knows_no_pan_stage(check_plug: ProcedureLimits) -> None:
    started = service(check_plug, FlowBegan())
    assert not started.allows(Marked(Step.DRAIN_PAN))
    assert not started.allows(SecondFlowBegan())
    with pytest.raises(ProcedureError, match=r"Marked drain-pan: .* step drain"):
        started.apply(Marked(Step.DRAIN_PAN))


def test_an_illegal_event_raises_and_changes_nothing(standpipe: ProcedureLimits) -> None:
    started = service(standpipe, FlowBegan())
    before = started.now
    with pytest.raises(ProcedureError, match=r"PlugShut: .* step drain, mode working"):
        started.apply(PlugShut())
    assert started.now is before


def test_the_engine_counts_as_off_until_something_tells_otherwise(
    standpipe: ProcedureLimits,
) -> None:
    assert not service(standpipe, *STANDPIPE_JOB[:4]).now.is_engine_on
    assert service(standpipe, *STANDPIPE_JOB[:5]).now.is_engine_on
    assert not service(standpipe, *STANDPIPE_JOB[:5], Marked(Step.REFIT)).now.is_engine_on


def test_driving_onto_the_lift_is_no_engine_start(standpipe: ProcedureLimits) -> None:
    assert not Procedure(standpipe).allows(EngineStarted())


def test_a_pause_in_the_flow_taken_for_a_closed_outlet_is_put_right(
    standpipe: ProcedureLimits, check_plug: ProcedureLimits
) -> None:
    two_stages = service(standpipe, FlowBegan(), OutletShut())
    assert two_stages.apply(SecondFlowBegan()) is Step.DRAIN_PAN
    one_stage = service(check_plug, FlowBegan(), OutletShut())
    assert one_stage.apply(FlowBegan()) is Step.DRAIN


def test_a_mark_of_refit_is_not_taken_back_by_a_flow(standpipe: ProcedureLimits) -> None:
    assert not service(standpipe, FlowBegan(), Marked(Step.REFIT)).allows(SecondFlowBegan())
    said_later = service(standpipe, FlowBegan(), OutletShut(), Marked(Step.REFIT))
    assert not said_later.allows(SecondFlowBegan())


def test_a_word_about_one_step_says_nothing_about_the_next(standpipe: ProcedureLimits) -> None:
    assert service(standpipe, Marked(Step.DRAIN), OutletShut()).allows(SecondFlowBegan())


def test_a_pan_that_rises_tells_that_the_engine_runs(check_hole: ProcedureLimits) -> None:
    topping_up = service(
        check_hole, FlowBegan(), OutletShut(), FluidGoingIn(), PanRose(), FluidGoingIn()
    )
    assert topping_up.step is Step.REFILL
    assert topping_up.now.is_engine_on
    assert topping_up.apply(SpillBegan()) is Step.LEVEL


def test_overflow_of_the_first_fill_is_no_level_check(check_hole: ProcedureLimits) -> None:
    filling = service(check_hole, FlowBegan(), OutletShut(), FluidGoingIn())
    assert not filling.allows(SpillBegan())


def test_check_hole_unit_is_topped_up_with_the_engine_running(
    check_hole: ProcedureLimits,
) -> None:
    running = service(check_hole, FlowBegan(), OutletShut(), FluidGoingIn(), EngineStarted())
    assert running.step is Step.CIRCULATE
    assert running.apply(FluidGoingIn()) is Step.REFILL
    assert running.now.is_engine_on
    assert running.apply(PanRose()) is Step.WARM


def test_a_spill_follows_a_topping_up_that_runs_over(standpipe: ProcedureLimits) -> None:
    topped_up = service(standpipe, *STANDPIPE_JOB[:7], TopUp())
    assert topped_up.step is Step.REFILL
    assert topped_up.apply(SpillBegan()) is Step.LEVEL


def test_attempts_are_counted(standpipe: ProcedureLimits) -> None:
    started = service(standpipe, *STANDPIPE_JOB[:7])
    assert started.attempts == 1
    started.apply(TopUp())
    started.apply(SpillBegan())
    assert started.attempts == 2


def test_fluid_that_nobody_weighed_is_noticed_by_the_engine(standpipe: ProcedureLimits) -> None:
    assert way(standpipe, FlowBegan(), OutletShut(), EngineStarted())[-1] is Step.CIRCULATE
    assert way(standpipe, FlowBegan(), OutletShut(), PanRose())[-1] is Step.WARM


def test_back_goes_through_the_steps_passed(standpipe: ProcedureLimits) -> None:
    started = service(standpipe, FlowBegan(), Marked(Step.REFIT))
    assert started.apply(Back()) is Step.DRAIN
    assert started.apply(Back()) is Step.PREPARE
    assert not started.allows(Back())


def test_nothing_moves_after_done(standpipe: ProcedureLimits) -> None:
    finished = service(standpipe, *STANDPIPE_JOB)
    assert finished.is_over
    assert finished.next_step is None
    assert not allowed_of(finished, *STANDPIPE_JOB, Back(), Paused(), Aborted())
    with pytest.raises(ProcedureError, match="the service is over"):
        finished.apply(Marked(Step.LEVEL))


def test_nothing_moves_after_an_abort(standpipe: ProcedureLimits) -> None:
    given_up = service(standpipe, FlowBegan(), Aborted())
    assert (given_up.step, given_up.mode) == (Step.DRAIN, Mode.ABORTED)
    assert given_up.is_over
    assert not allowed_of(given_up, Marked(Step.DRAIN), OutletShut(), Resumed(), Back())


def test_a_stop_for_the_night_keeps_the_step(standpipe: ProcedureLimits) -> None:
    stopped = service(standpipe, FlowBegan(), Paused())
    assert (stopped.step, stopped.mode) == (Step.DRAIN, Mode.PAUSED)
    assert not stopped.allows(Paused())
    assert stopped.apply(Resumed()) is Step.DRAIN
    assert stopped.mode is Mode.WORKING


def test_a_stop_ends_by_itself_when_the_sensors_see_work(standpipe: ProcedureLimits) -> None:
    stopped = service(standpipe, FlowBegan(), Paused())
    assert stopped.apply(OutletShut()) is Step.REFIT
    assert stopped.mode is Mode.WORKING


@pytest.mark.parametrize("n_events", [7, 8])
def test_cooling_down_ends_the_attempt(n_events: int, standpipe: ProcedureLimits) -> None:
    cooling = service(standpipe, *STANDPIPE_JOB[:n_events], CoolDown())
    assert (cooling.step, cooling.mode) == (Step.WARM, Mode.COOLING)
    assert not cooling.now.is_engine_on


def test_cooling_before_the_first_start_keeps_the_step(standpipe: ProcedureLimits) -> None:
    cooling = service(standpipe, *STANDPIPE_JOB[:4], CoolDown())
    assert (cooling.step, cooling.mode) == (Step.REFILL, Mode.COOLING)
    assert cooling.apply(EngineStarted()) is Step.CIRCULATE
    assert cooling.mode is Mode.WORKING


def test_after_cooling_the_engine_is_awaited_and_then_the_next_spill(
    standpipe: ProcedureLimits,
) -> None:
    cooling = service(standpipe, *STANDPIPE_JOB[:7], CoolDown())
    assert not cooling.now.awaits_restart
    cooling.apply(CoolingEnded())
    assert cooling.now.awaits_restart
    assert cooling.apply(EngineStarted()) is Step.WARM
    assert not cooling.now.awaits_restart
    assert cooling.apply(SpillBegan()) is Step.LEVEL


def test_a_wait_cannot_be_begun_twice_nor_before_anything_ran_out(
    standpipe: ProcedureLimits,
) -> None:
    assert not service(standpipe, *STANDPIPE_JOB[:4], CoolDown()).allows(CoolDown())
    assert not Procedure(standpipe).allows(CoolDown())


def test_the_next_step_leaves_out_what_the_unit_lacks(
    standpipe: ProcedureLimits, check_plug: ProcedureLimits
) -> None:
    assert service(standpipe, FlowBegan()).next_step is Step.DRAIN_PAN
    assert service(check_plug, FlowBegan()).next_step is Step.REFIT
