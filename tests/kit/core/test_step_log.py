"""Which step the service is in, and when each began."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.kit.core.bench import JOB

from drainscale.core.step_log import StepLog
from drainscale.procedure.events import FlowBegan, Marked, PanRose, PlugShut
from drainscale.procedure.steps import Step
from drainscale.quantities.samples import STEP_NAMES


def begun() -> StepLog:
    log = StepLog(JOB.procedure)
    log.begin(0.0)
    return log


def times(log: StepLog) -> list[tuple[str, float]]:
    return [(record.step.value, record.started_s) for record in log.records]


def test_a_service_begins_with_its_preparation() -> None:
    assert times(begun()) == [("prepare", 0.0)]


def test_a_mark_moves_to_its_step_and_is_remembered_as_one() -> None:
    log = begun()
    assert log.move(Marked(Step.DRAIN), 12.0)
    assert times(log) == [("prepare", 0.0), ("drain", 12.0)]
    assert log.was_marked(Step.DRAIN)
    assert not log.was_marked(Step.PREPARE)


def test_a_mark_of_the_present_step_begins_no_other() -> None:
    log = begun()
    log.move(FlowBegan(), 12.0)
    assert not log.move(Marked(Step.DRAIN), 15.0)
    assert log.was_marked(Step.DRAIN)
    assert log.started_s(Step.DRAIN) == 12.0


def test_an_event_that_has_no_place_here_changes_nothing() -> None:
    log = begun()
    assert not log.move(PlugShut(), 5.0)
    assert times(log) == [("prepare", 0.0)]


def test_the_scale_dates_a_boundary_that_a_mark_named() -> None:
    log = begun()
    log.move(Marked(Step.DRAIN), 12.0)
    log.date(Step.DRAIN, 14.5)
    assert log.started_s(Step.DRAIN) == 14.5


def test_a_boundary_is_never_dated_before_the_one_that_it_follows() -> None:
    log = begun()
    log.move(Marked(Step.DRAIN), 12.0)
    log.move(Marked(Step.REFIT), 100.0)
    log.date(Step.REFIT, 5.0)
    assert times(log)[1:] == [("drain", 12.0), ("refit", 12.0)]


def test_an_event_dated_back_begins_its_step_with_the_step_before() -> None:
    log = begun()
    log.move(Marked(Step.REFILL), 100.0)
    log.move(PanRose(), 90.0)
    assert log.step is Step.WARM
    assert log.started_s(Step.WARM) == 100.0


@pytest.mark.parametrize("step", [Step.REFILL, Step.WARM, Step.LEVEL])
def test_a_repeated_step_is_a_record_of_its_own(step: Step) -> None:
    log = begun()
    for named, t in ((step, 10.0), (Step.SEAL, 20.0), (step, 30.0)):
        log.move(Marked(named), t)
    assert [r.started_s for r in log.records if r.step is step] == [10.0, 30.0]
    assert log.started_s(step) == 30.0


@given(st.lists(st.tuples(st.sampled_from(STEP_NAMES), st.floats(0.0, 100.0)), max_size=20))
def test_any_marks_leave_the_records_in_time_order(marks: list[tuple[str, float]]) -> None:
    log = begun()
    t = 0.0
    for name, dt in marks:
        t += dt
        log.move(Marked(Step(name)), t)
        log.date(Step(name), t - 50.0)
    starts = [record.started_s for record in log.records]
    assert starts == sorted(starts)
