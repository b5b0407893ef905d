"""Whether a sensor still says something new."""

SILENT_S = 5.0


class SensorWatch:
    """Watches one sensor: silent, or repeating itself, for five seconds is a fault.

    Args:
        t: When the watch begins; a sensor that never speaks is silent since then.
    """

    def __init__(self, t: float) -> None:
        self.last_t = t
        self.is_faulty = False

    def heard(self, t: float) -> bool:
        """A good reading came; return whether that ends a fault."""
        restored = self.is_faulty
        self.last_t = t
        self.is_faulty = False
        return restored

    def reported(self) -> bool:
        """The sensor reports a fault itself; return whether that is new."""
        new = not self.is_faulty
        self.is_faulty = True
        return new

    def check(self, t: float) -> bool:
        """Return whether the sensor has become silent by ``t``."""
        if self.is_faulty or t - self.last_t < SILENT_S:
            return False
        self.is_faulty = True
        return True
