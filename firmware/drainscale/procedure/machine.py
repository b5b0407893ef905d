"""The engine that reads the procedure's tables; the only file that makes a move.

    event ──> in the table of steps? guard true? ──> new step ─┐
          └─> in the table of modes? ──────────────> new mode ─┴─> new situation

An event that is in neither raises, and the situation is the old one.
"""

from dataclasses import replace

from drainscale.errors import ProcedureError
from drainscale.procedure.events import (
    PERSON_EVENTS,
    CoolDown,
    EngineStarted,
    Event,
    Marked,
    ModeEvent,
    StepEvent,
)
from drainscale.procedure.situation import Situation
from drainscale.procedure.steps import Mode, Step
from drainscale.procedure.table import MODES, TABLE, Target
from drainscale.quantities.job import ProcedureLimits

_ENGINE_RUNS_IN = frozenset({Step.CIRCULATE, Step.WARM, Step.LEVEL})


class Procedure:
    """One service on its way from ``prepare`` to ``done``.

    Args:
        limits: What the service information says about this unit.

    Example:
        >>> from drainscale.procedure.events import FlowBegan
        >>> limits = ProcedureLimits("standpipe", (35.0, 45.0), 0.6, 60.0, 3.0)
        >>> service = Procedure(limits)
        >>> service.apply(FlowBegan())
        <Step.DRAIN: 'drain'>
        >>> service.allows(FlowBegan())
        False
    """

    def __init__(self, limits: ProcedureLimits) -> None:
        self._now = Situation(limits)

    @property
    def now(self) -> Situation:
        """Where the service stands."""
        return self._now

    @property
    def step(self) -> Step:
        """What is being done to the fluid."""
        return self._now.step

    @property
    def mode(self) -> Mode:
        """Whether the work goes on, waits or is over."""
        return self._now.mode

    @property
    def attempts(self) -> int:
        """How many times the level check was begun."""
        return self._now.attempts

    @property
    def is_over(self) -> bool:
        """Whether the service is done or given up: nothing moves any more."""
        return self._now.is_over

    @property
    def next_step(self) -> Step | None:
        """The step that comes next on this unit, for a press that names none; None at the end."""
        return step_after(self._now)

    def allows(self, event: Event) -> bool:
        """Tell whether the event is legal now."""
        return after(self._now, event) is not None

    def apply(self, event: Event) -> Step:
        """Make the move that the event asks for.

        Returns:
            The step that the service is in now; it may be the same.

        Raises:
            ProcedureError: The event is illegal here; nothing has changed.
        """
        then = after(self._now, event)
        if then is None:
            raise ProcedureError(_refusal(self._now, event))
        self._now = then
        return then.step


def step_after(now: Situation) -> Step | None:
    """Find the next step in order that the unit has."""
    if now.is_over:
        return None
    return next(
        step
        for step in Step
        if step.place > now.step.place and after(now, Marked(step)) is not None
    )


def after(now: Situation, event: Event) -> Situation | None:
    """Look an event up in both tables.

    Returns:
        The situation it leads to, None if it is illegal.
    """
    if now.is_over:
        return None
    if isinstance(event, CoolDown):
        return _after_cool_down(now, event)
    if isinstance(event, StepEvent):
        return _after_step_event(now, event)
    return _after_mode_event(now, event, now)


def _after_cool_down(now: Situation, event: CoolDown) -> Situation | None:
    then = _after_step_event(now, event)
    if then is None:
        return None
    # where the step stays there is no mark to record, so nothing that a guard sees may change
    kept = now if then.step is now.step else then
    return _after_mode_event(now, event, replace(kept, is_engine_on=False))


def _after_mode_event(now: Situation, event: ModeEvent, then: Situation) -> Situation | None:
    mode = MODES[now.mode].get(type(event))
    return None if mode is None else replace(then, mode=mode)


def _after_step_event(now: Situation, event: StepEvent) -> Situation | None:
    transition = TABLE[now.step].get(type(event))
    if transition is None or not (transition.guard is None or transition.guard(now, event)):
        return None
    step = _target(now, event, transition.to)
    by_person = isinstance(event, PERSON_EVENTS)
    return replace(
        now,
        step=step,
        mode=Mode.WORKING,
        behind=_behind(now, transition.to, step),
        was_said=by_person or (now.was_said and step is now.step),
        engine_has_run=now.engine_has_run
        or isinstance(event, EngineStarted)
        or step in _ENGINE_RUNS_IN,
        is_engine_on=_is_engine_on(now, event, step),
        attempts=now.attempts + (step is Step.LEVEL and now.step is not Step.LEVEL),
    )


def _target(now: Situation, event: StepEvent, to: Step | Target) -> Step:
    if isinstance(event, Marked):
        return event.step
    return to if isinstance(to, Step) else now.behind[-1]


def _behind(now: Situation, to: Step | Target, step: Step) -> tuple[Step, ...]:
    if to is Target.PREVIOUS:
        return now.behind[:-1]
    return now.behind if step is now.step else (*now.behind, now.step)


def _is_engine_on(now: Situation, event: StepEvent, step: Step) -> bool:
    if isinstance(event, EngineStarted) or step in _ENGINE_RUNS_IN:
        return True
    return now.is_engine_on and step.place >= Step.REFILL.place


def _refusal(now: Situation, event: Event) -> str:
    what = type(event).__name__
    if isinstance(event, Marked):
        what += f" {event.step}"
    if now.is_over:
        return f"{what}: the service is over ({now.step}, {now.mode})"
    return f"{what}: not in the procedure's table for step {now.step}, mode {now.mode}"
