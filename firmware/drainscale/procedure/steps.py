"""The steps of a service, in order, and the modes that a service can be in beside them.

A step says what is being done to the fluid, for that decides where a weight is booked: while the
jug is on the platform and fluid goes in, the step is ``refill``, engine running or not. What else
is going on (a stop for the night, a wait for the fluid to cool) is the mode, so that none of it
loses the step.
"""

from enum import StrEnum


class Step(StrEnum):
    """What is being done to the fluid."""

    PREPARE = "prepare"
    """Vehicle on the lift, kit connected, nothing opened yet."""
    DRAIN = "drain"
    """The first flow: out of the level bore, or of the drain plug on a check-plug unit."""
    DRAIN_PAN = "drain-pan"
    """The second flow, standpipe out; only on standpipe units."""
    REFIT = "refit"
    """The outlet is closed again: standpipe or plug back in."""
    REFILL = "refill"
    """Fluid goes in, be it the first fill or a topping up with the engine running."""
    CIRCULATE = "circulate"
    """The engine runs; once through the gears so that every passage fills."""
    WARM = "warm"
    """The fluid warms towards the window; also the wait between two attempts."""
    LEVEL = "level"
    """The level opening is open: what stands above its rim runs out. One attempt."""
    SEAL = "seal"
    """The level opening is shut; torque, sealing washers, cleaning."""
    DONE = "done"
    """The work has ended; nothing moves any more."""

    @property
    def place(self) -> int:
        """Its place in the order of a service, from 0."""
        return ORDER.index(self)


ORDER = tuple(Step)


class Mode(StrEnum):
    """Whether the work goes on; kept apart from the step so that the step is never lost."""

    WORKING = "working"
    """Somebody is at it."""
    COOLING = "cooling"
    """Plug shut, engine off, until the fluid is cold enough for another attempt."""
    PAUSED = "paused"
    """Stopped, for the night perhaps."""
    ABORTED = "aborted"
    """Given up; nothing moves any more."""
