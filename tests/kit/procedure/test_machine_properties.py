"""What holds for every sequence of events, legal or not."""

from collections.abc import Iterable
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.errors import ProcedureError
from drainscale.procedure.events import (
    MODE_EVENTS,
    PERSON_EVENTS,
    STEP_EVENTS,
    Aborted,
    Back,
    CoolDown,
    Event,
    FlowBegan,
    FluidGoingIn,
    Marked,
    SecondFlowBegan,
    SpillBegan,
    StepEvent,
    TopUp,
)
from drainscale.procedure.machine import Procedure, after
from drainscale.procedure.situation import Situation
from drainscale.procedure.steps import Mode, Step
from drainscale.procedure.table import TABLE, Target
from drainscale.quantities.job import ProcedureLimits

STANDPIPE = ProcedureLimits("standpipe", (35.0, 45.0), 0.6, 60.0, 3.0)
CHECK_HOLE = replace(STANDPIPE, level_method="check-plug", fill_via="check-plug")

WEIGHED_OR_SAID = (FlowBegan, SecondFlowBegan, FluidGoingIn, SpillBegan, Marked, Back, TopUp)

# done ends everything, so a random walk that may mark it gets nowhere
marks = st.sampled_from([step for step in Step if step is not Step.DONE]).map(Marked)
sensor_events: st.SearchStrategy[Event] = st.sampled_from(
    [kind() for kind in STEP_EVENTS if not issubclass(kind, Marked)]
)
mode_events: st.SearchStrategy[Event] = st.sampled_from(
    [kind() for kind in MODE_EVENTS if kind is not Aborted]
)
walks = st.lists(st.one_of(sensor_events, marks, mode_events), max_size=40)
units = st.sampled_from([STANDPIPE, CHECK_HOLE])


def follow(limits: ProcedureLimits, events: Iterable[Event]) -> list[tuple[Event, Situation]]:
    """Apply what is legal of ``events`` and return it with where it led."""
    service, done = Procedure(limits), []
    for event in events:
        if service.allows(event):
            service.apply(event)
            done.append((event, service.now))
    return done


def as_recorded(walk: list[tuple[Event, Situation]]) -> list[Event]:
    """What a recording holds of a walk: sensors as they were, people as marks of steps."""
    recorded: list[Event] = []
    step = Step.PREPARE
    for event, now in walk:
        if isinstance(event, PERSON_EVENTS):
            if isinstance(event, Marked) or now.step is not step:
                recorded.append(Marked(now.step))
        elif isinstance(event, STEP_EVENTS):
            recorded.append(event)
        step = now.step
    return recorded


@given(units, walks)
def test_a_walk_never_leaves_the_table(limits: ProcedureLimits, events: list[Event]) -> None:
    step = Step.PREPARE
    for event, now in follow(limits, events):
        if isinstance(event, STEP_EVENTS):
            to = TABLE[step][type(event)].to
            named = event.step if isinstance(event, Marked) else to
            assert now.step is named or to is Target.PREVIOUS
        else:
            assert now.step is step
        step = now.step


@given(units, walks)
def test_an_illegal_event_raises_and_changes_nothing(
    limits: ProcedureLimits, events: list[Event]
) -> None:
    service = Procedure(limits)
    for event in events:
        before = service.now
        if service.allows(event):
            service.apply(event)
        else:
            with pytest.raises(ProcedureError):
                service.apply(event)
            assert service.now is before


@given(walks)
def test_a_check_plug_unit_is_never_in_the_pan_stage(events: list[Event]) -> None:
    assert all(now.step is not Step.DRAIN_PAN for _, now in follow(CHECK_HOLE, events))


@given(units, walks)
def test_a_recording_of_the_walk_leads_through_the_same_steps(
    limits: ProcedureLimits, events: list[Event]
) -> None:
    walk = follow(limits, events)
    replayed = follow(limits, as_recorded(walk))
    assert len(replayed) == len(as_recorded(walk))
    assert without_stays(now.step for _, now in replayed) == without_stays(
        now.step for _, now in walk
    )
    if walk and replayed:
        assert replayed[-1][1].attempts == walk[-1][1].attempts


@given(units, walks, st.integers(0, 40))
def test_an_abort_ends_all(limits: ProcedureLimits, events: list[Event], at: int) -> None:
    walk = follow(limits, [*events[:at], Aborted(), *events[at:]])
    assert isinstance(walk[-1][0], Aborted) or walk[-1][1].step is Step.DONE
    assert walk[-1][1].is_over


@given(units, walks)
def test_no_cooling_leaves_an_attempt_open(limits: ProcedureLimits, events: list[Event]) -> None:
    for event, now in follow(limits, events):
        if isinstance(event, CoolDown):
            assert now.step not in (Step.LEVEL, Step.SEAL)
            assert now.mode is Mode.COOLING


@pytest.mark.parametrize("limits", [STANDPIPE, CHECK_HOLE], ids=["standpipe", "check-hole"])
def test_done_needs_a_weighing_or_a_mark_on_every_way(limits: ProcedureLimits) -> None:
    # not a sample: every situation that sensors and waits can lead to, with a witness beside it
    moves: list[StepEvent] = [kind() for kind in STEP_EVENTS if not issubclass(kind, Marked)]
    seen = {(Situation(limits), False)}
    todo, ends = list(seen), []
    while todo:
        now, was_weighed = todo.pop()
        for event in moves:
            then = after(now, event)
            if then is None:
                continue
            short = replace(then, behind=then.behind[-1:], attempts=0)
            state = (short, was_weighed or isinstance(event, WEIGHED_OR_SAID))
            if state not in seen:
                seen.add(state)
                todo.append(state)
                ends += [state] if then.step is Step.DONE else []
    assert ends
    assert all(was_weighed for _, was_weighed in ends)


def without_stays(steps: Iterable[Step]) -> list[Step]:
    moved = [Step.PREPARE]
    for step in steps:
        if step is not moved[-1]:
            moved.append(step)
    return moved
