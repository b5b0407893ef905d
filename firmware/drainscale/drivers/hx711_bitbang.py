"""The load cell's converter over the package ``hx711``: for boards without SPI, and guarded.

Each pulse is made by the program, through the kernel. Where that takes so long that the converter
powers down inside a frame (a Zero 2 W, and possibly others, over rpi-lgpio), this way is refused.
Source of the limits: data sheet of the HX711, "Serial Interface": high clock 0.2 to 50 us, power
down above 60 us.
"""

import logging
from statistics import median

from drainscale.drivers.frames.conversions import ConversionGuard
from drainscale.drivers.hx711_package import PackageChip
from drainscale.errors import SensorError, SensorRefusedError
from drainscale.pins import ScalePins
from drainscale.ports import Clock

log = logging.getLogger(__name__)

POLL_S = 0.002
LONGEST_PULSE_s = 50e-6
TYPICAL_PULSE_s = 30e-6  # leaves room for a busy moment
PULSES_TRIED = 400
PULSES_TOO_LONG = 2  # of those tried: 1 frame of 8 would be lost, and that much risk is enough


class BitbangLoadCell:
    """A ``LoadCell`` on two pins that the program moves.

    After any reading that failed the frame may be half clocked, and the rest of it would pass for
    the next one: the converter is started anew and its first conversions are dropped.
    """

    way = "bitbang"

    def __init__(self, name: str, wiring: ScalePins, clock: Clock) -> None:
        """Claim the pins, try how long pulses are, start the converter.

        Raises:
            SensorMissingError: The package or the pins are not there.
            SensorRefusedError: Pulses take too long on this board.
        """
        self.frames_dropped = 0
        self._name = name
        self._clock = clock
        self._chip: PackageChip | None = PackageChip(name, wiring)
        self._guard = ConversionGuard()
        try:
            _refuse_slow(name, self._chip.pulse_widths_s(PULSES_TRIED))
            self._chip.restart()
        except BaseException:
            self.close()
            raise

    def read(self, timeout_s: float) -> int | None:
        """Wait for the next conversion and return its count; see ``LoadCell.read``."""
        if self._chip is None:
            raise SensorError(f"{self._name} scale: was closed")
        end_s = self._clock.now_s() + timeout_s
        self._clock.sleep(min(self._guard.quiet_until_s(), end_s) - self._clock.now_s())
        while True:
            count = self._fetch(self._chip)
            if count is not None:
                return count
            left_s = end_s - self._clock.now_s()
            if left_s <= 0.0:
                return None
            self._clock.sleep(min(POLL_S, left_s))

    def close(self) -> None:
        """Let the pins go; twice does no harm."""
        if self._chip is not None:
            self._chip.close()
            self._chip = None

    def _fetch(self, chip: PackageChip) -> int | None:
        """Clock a conversion out if one waits; None if there is none to be used."""
        if not chip.is_ready():
            self._guard.idle(self._clock.now_s())
            return None
        count = None if self._guard.is_suspect() else chip.read_word()
        if count is None:
            self.frames_dropped += 1
            log.debug("frame-dropped scale=%s", self._name)
            chip.restart()
            self._guard.restarted()
            return None
        return count if self._guard.is_usable(self._clock.now_s()) else None


def _refuse_slow(name: str, widths_s: list[float]) -> None:
    typical_s = median(widths_s)
    too_long = sum(width_s > LONGEST_PULSE_s for width_s in widths_s)
    if typical_s > TYPICAL_PULSE_s or too_long > PULSES_TOO_LONG:
        raise SensorRefusedError(
            f"{name} scale: pulses made by the program take {typical_s * 1e6:.0f} us here, and"
            f" {too_long} of {len(widths_s)} took more than {LONGEST_PULSE_s * 1e6:.0f} us, the"
            " most that the converter allows; wire it to SPI"
        )
