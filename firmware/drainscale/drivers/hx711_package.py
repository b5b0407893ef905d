"""The only place that calls into the package ``hx711``, private parts included.

Written against exactly ``KNOWN_VERSION``; a test fails when another one is installed. What the
package does that we cannot have, and what is done about it here:

- ``get_raw_data`` and ``reset`` never return if the converter says nothing, is overloaded, or
  holds 0 or -1: never called. ``_set_channel_gain`` calls the first when a pulse was slow: ours
  raises instead.
- Two half-second sleeps and a reading with the wrong gain in the constructor: left out.
- It logs to the root logger and so installs a handler there: given a logger of its own.
- A failed reading is ``False``, a reading of zero is ``0``: told apart by identity.
- After a pulse that was too long it leaves the frame half clocked: ``read_word`` says so, and the
  caller has to ``restart`` and let the converter settle.
"""

import logging
from typing import Any

from drainscale.errors import SensorError, SensorMissingError
from drainscale.pins import ScalePins

KNOWN_VERSION = "1.1.2.3"
GAIN = 128


class _SlowPulseError(Exception):
    """A pulse was so long that the converter may have powered down."""


class PackageChip:
    """One converter, its clock and data lines moved by the package."""

    def __init__(self, name: str, wiring: ScalePins) -> None:
        """Claim the two pins.

        Raises:
            SensorMissingError: Package or pins are not there.
            SensorError: The pins are in use.
        """
        self._package = _load(name)
        self._gpio: Any = self._package.GPIO
        self._wiring = wiring
        try:
            self._chip = _guarded(self._package)(wiring.data, wiring.clock, gain=GAIN)
            # a line that hangs free must not read as "ready"
            self._gpio.setup(wiring.data, self._gpio.IN, pull_up_down=self._gpio.PUD_UP)
        except Exception as error:  # lgpio raises a class of its own, rpi-lgpio built-in ones
            raise SensorError(f"{name} scale: cannot use its pins: {error}") from error

    def is_ready(self) -> bool:
        """Tell whether a conversion waits."""
        return bool(self._chip._ready())

    def read_word(self) -> int | None:
        """Clock a waiting conversion out; None if the converter has to be restarted.

        That is so after a long pulse, with a saturated word (which the package withholds), and if
        the data line is not high afterwards.
        """
        try:
            count = self._chip._read(max_tries=1)
        except _SlowPulseError:
            return None
        if count is False or not self._gpio.input(self._wiring.data):
            return None
        return int(count)

    def restart(self) -> None:
        """Power the converter down and up again; takes 20 ms."""
        self._chip.power_down()
        self._chip.power_up()

    def pulse_widths_s(self, pulses: int) -> list[float]:
        """Measure how long pulses are from here, s; the converter has to be restarted then."""
        widths_s = []
        counter = self._package.time.perf_counter
        for _ in range(pulses):
            begin_s = counter()
            self._gpio.output(self._wiring.clock, True)
            self._gpio.output(self._wiring.clock, False)
            widths_s.append(counter() - begin_s)
        return widths_s

    def close(self) -> None:
        """Let the pins go."""
        self._gpio.cleanup([self._wiring.data, self._wiring.clock])


def _load(name: str) -> Any:
    try:
        import hx711
    except (ImportError, RuntimeError) as error:  # RuntimeError: rpi-lgpio off a Pi
        raise SensorMissingError(f"{name} scale: the package hx711 cannot run: {error}") from error
    hx711.logging = logging.getLogger("hx711")
    return hx711


def _guarded(package: Any) -> Any:
    def no_wait(_chip: object) -> bool:
        return True

    def no_loop(_chip: object, times: int = 5) -> None:
        raise _SlowPulseError(times)

    return type(
        "GuardedHX711", (package.HX711,), {"_apply_setting": no_wait, "get_raw_data": no_loop}
    )
