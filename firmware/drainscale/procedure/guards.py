"""The conditions in the procedure's table, each a named function.

A guard sees the situation and the event and says whether the move may be made. None looks at the
mode: an answer must be the same in replay, which knows nothing of a pause.
"""

from collections.abc import Callable

from drainscale.procedure.events import Marked, StepEvent
from drainscale.procedure.situation import Situation
from drainscale.procedure.steps import Step

Guard = Callable[[Situation, StepEvent], bool]


def unit_has_that_step(now: Situation, event: StepEvent) -> bool:
    """A unit with a check plug has no standpipe to take out, so no second stage to name."""
    is_pan_stage = isinstance(event, Marked) and event.step is Step.DRAIN_PAN
    return not is_pan_stage or _has_standpipe(now)


def unit_has_a_standpipe(now: Situation, _event: StepEvent) -> bool:
    """Only a standpipe unit drains in two stages."""
    return _has_standpipe(now)


def standpipe_and_refit_was_inferred(now: Situation, _event: StepEvent) -> bool:
    """A pause in the flow was taken for a closed outlet; a person's word stands."""
    return _has_standpipe(now) and not now.was_said


def no_standpipe_and_refit_was_inferred(now: Situation, _event: StepEvent) -> bool:
    """A pause in the only stage was taken for a closed outlet; a person's word stands."""
    return not _has_standpipe(now) and not now.was_said


def engine_has_run(now: Situation, _event: StepEvent) -> bool:
    """With the engine never started, what runs out is the overflow of the first fill."""
    return now.engine_has_run


def seal_was_inferred(now: Situation, _event: StepEvent) -> bool:
    """The end of a flow was taken for a shut plug, yet it goes on; a person's word stands."""
    return not now.was_said


def there_is_a_way_back(now: Situation, _event: StepEvent) -> bool:
    """The first step has none before it."""
    return bool(now.behind)


def _has_standpipe(now: Situation) -> bool:
    return now.limits.level_method == "standpipe"
