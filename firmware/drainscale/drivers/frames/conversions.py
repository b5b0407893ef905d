"""Which of a load cell's conversions may be used: a converter that started anew has to settle."""

from drainscale.drivers.frames.hx711 import SETTLING_FRAMES

LONGEST_PERIOD_S = 0.15  # 10 samples a second, and a converter's clock that is slow by a third
# Looking begins when this part of the period has passed: saves most of the looking.
QUIET_PART = 0.85
# A channel or gain that was changed, or a supply that failed, takes four periods to settle.
SUSPECT_PERIODS = 2.5


class ConversionGuard:
    """Follows one converter's rhythm.

    A stray pulse on the clock line shifts a frame by one bit, which cannot be seen in the frame,
    and puts the converter on its other channel for the next conversion. That shows as a pause of
    four periods in which the line was looked at and not ready: what comes after such a pause is
    not to be used, and the converter to be started anew.
    """

    def __init__(self) -> None:
        self._unsettled = SETTLING_FRAMES
        self._read_at_s: float | None = None
        self._idle_at_s = 0.0
        self._period_s = 0.0

    def restarted(self) -> None:
        """Note that the converter was started anew."""
        self._unsettled = SETTLING_FRAMES
        self._read_at_s, self._period_s = None, 0.0

    def idle(self, now_s: float) -> None:
        """Note that the line was looked at and not ready."""
        self._idle_at_s = now_s

    def quiet_until_s(self) -> float:
        """Return the time before which looking is in vain; 0 where nothing is known."""
        if self._read_at_s is None:
            return 0.0
        return self._read_at_s + QUIET_PART * self._period_s

    def is_suspect(self) -> bool:
        """Tell whether the conversion that waits comes after a pause that nothing explains."""
        if self._read_at_s is None or not self._period_s:
            return False
        return self._idle_at_s - self._read_at_s > SUSPECT_PERIODS * self._period_s

    def is_usable(self, now_s: float) -> bool:
        """Note a valid frame, and tell whether its count may be used."""
        if self._read_at_s is not None:
            period_s = now_s - self._read_at_s
            self._period_s = period_s if period_s <= LONGEST_PERIOD_S else 0.0
        self._read_at_s = now_s
        if self._unsettled > 0:
            self._unsettled -= 1
            return False
        return True
