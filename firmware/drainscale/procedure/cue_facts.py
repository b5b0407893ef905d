"""What the cue is decided from, and what a cue is.

The core makes plain facts out of estimates and probabilities, at every moment anew; nothing here
weighs a probability again.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from drainscale.procedure.steps import Mode, Step


class CueName(StrEnum):
    """The vocabulary; how each one looks and sounds is the business of the signals."""

    WAIT = "wait"
    """Nothing to do now."""
    GO_ON = "go-on"
    """This step is complete; the next may be done at leisure."""
    GET_READY = "get-ready"
    """An action is due soon, or something is not as usual."""
    OPEN = "open"
    """Open the level plug now."""
    SHUT = "shut"
    """Shut the level plug now."""
    ADD = "add"
    """Add fluid."""
    STOP = "stop"
    """Going on could hurt somebody or ruin the service."""
    FAULT = "fault"
    """A sensor gives no value."""


class PlugState(StrEnum):
    """The level opening, as far as it is known."""

    UNKNOWN = "unknown"
    OPEN = "open"
    SHUT = "shut"


class Window(StrEnum):
    """Where the fluid is with respect to the window of the level check."""

    UNKNOWN = "unknown"
    """Withheld: no temperature."""
    BELOW = "below"
    NEAR = "near"
    """Soon in it, by temperature or by forecast."""
    IN = "in"
    CLOSING = "closing"
    """Still in it, about to leave."""
    ABOVE = "above"


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """All that the cue depends on. Volumes are litres at 20 °C, None where not measured."""

    step: Step
    mode: Mode = Mode.WORKING
    plug_state: PlugState = PlugState.UNKNOWN
    window: Window = Window.UNKNOWN
    drained_L: float | None = None
    added_L: float | None = None
    target_L: float | None = None
    is_check_hole_fill: bool = False
    """Filled through the check hole: less than drained may be in when the engine starts."""
    is_engine_running: bool | None = None
    """None where nothing tells."""
    awaits_restart: bool = False
    """Cold enough again, engine not on yet (``Situation.awaits_restart``)."""
    is_flowing: bool = False
    """Fluid runs onto the scale."""
    is_going_in: bool = False
    """Fluid leaves the supply just now."""
    has_dripped: bool = False
    """The flow of this stage is below the drip limit for good."""
    is_refill_reached: bool = False
    is_open_due: bool = False
    """The fluid is in the window with 95 % probability."""
    is_close_due: bool = False
    """The spill is a thin stream, in the window or above it."""
    is_thin_soon: bool = False
    """The spill will be a thin stream within half a minute or so."""
    will_overrun: bool = False
    """The spill will not be thin before the window closes."""
    is_no_spill: bool = False
    """The plug is open in the window and nothing runs."""
    is_window_closing: bool = False
    """The fluid is about to leave the window while the plug is open."""
    is_attempt_failed: bool = False
    """The last attempt ended in another way than closed in the window."""
    is_container_full: bool = False
    """The drain container is filled to 90 %."""
    has_sensor_fault: bool = False
    held: Mapping[CueName, str] = field(default_factory=dict)
    """The cues that a gate holds back now, with the id of that gate."""


@dataclass(frozen=True, slots=True)
class Cue:
    """What to tell the technician, and why."""

    name: CueName
    reason: str
    """Key of the reason: a rule's, or the id of the gate that holds a cue back."""
