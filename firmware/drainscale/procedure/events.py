"""What can happen to the procedure, from sensors or from people.

Frozen records that carry nothing but what the table needs; times stay with whoever sends them.

Rule of the file: an answer may depend only on what a recording holds, and of what people do it
holds the step that begins, nothing else. So ``Back``, ``TopUp`` and ``CoolDown`` are worth no more
than a mark of the step they lead to, which is how they are recorded, and the events of the mode
(``Paused`` and so on) never decide about a step.
"""

from dataclasses import dataclass
from typing import get_args

from drainscale.procedure.steps import Step


@dataclass(frozen=True, slots=True)
class Marked:
    """The technician says which step begins now: foot switch, board or a recorded mark."""

    step: Step


@dataclass(frozen=True, slots=True)
class Back:
    """The technician takes the last move back; recorded as a mark of the step it leads to."""


@dataclass(frozen=True, slots=True)
class TopUp:
    """The technician is about to add fluid once more; recorded as a mark of ``refill``."""


@dataclass(frozen=True, slots=True)
class FlowBegan:
    """Fluid runs out of the unit onto the scale for the first time."""


@dataclass(frozen=True, slots=True)
class SecondFlowBegan:
    """A second flow began after the first was over: the standpipe is out."""


@dataclass(frozen=True, slots=True)
class OutletShut:
    """The drain runs no more and its outlet is taken for closed."""


@dataclass(frozen=True, slots=True)
class FluidGoingIn:
    """Fluid leaves the supply jug, or litres that were added were typed in."""


@dataclass(frozen=True, slots=True)
class EngineStarted:
    """The engine shakes the platform, or whatever else tells that it runs."""


@dataclass(frozen=True, slots=True)
class PanRose:
    """The pan gets warmer for sure: the fluid is warming."""


@dataclass(frozen=True, slots=True)
class SpillBegan:
    """Fluid runs out of the level opening: an attempt begins."""


@dataclass(frozen=True, slots=True)
class PlugShut:
    """The spill ended at once: the level opening was shut."""


@dataclass(frozen=True, slots=True)
class WorkEnded:
    """Nothing is left to do: what was to be answered is answered, the platform is cleared."""


@dataclass(frozen=True, slots=True)
class CoolDown:
    """Plug shut, engine off: wait for the fluid to cool, then start again.

    Recorded as a mark of the step it leads to, where it leads to another.
    """


@dataclass(frozen=True, slots=True)
class CoolingEnded:
    """The fluid is cold enough for the engine to be started again."""


@dataclass(frozen=True, slots=True)
class Paused:
    """The work stops for a while, overnight perhaps; the step stays."""


@dataclass(frozen=True, slots=True)
class Resumed:
    """The work goes on where it was stopped."""


@dataclass(frozen=True, slots=True)
class Aborted:
    """The service is given up."""


StepEvent = (
    Marked
    | Back
    | TopUp
    | FlowBegan
    | SecondFlowBegan
    | OutletShut
    | FluidGoingIn
    | EngineStarted
    | PanRose
    | SpillBegan
    | PlugShut
    | WorkEnded
    | CoolDown
)
"""Looked up in the table of steps."""
ModeEvent = CoolDown | CoolingEnded | Paused | Resumed | Aborted
"""Looked up in the table of modes; ``CoolDown`` has to be in both."""
Event = StepEvent | ModeEvent

STEP_EVENTS: tuple[type[StepEvent], ...] = get_args(StepEvent)
MODE_EVENTS: tuple[type[ModeEvent], ...] = get_args(ModeEvent)
PERSON_EVENTS: tuple[type[StepEvent], ...] = (Marked, Back, TopUp, CoolDown)
"""Step events that come from a person; what they lead to is recorded as a mark."""
