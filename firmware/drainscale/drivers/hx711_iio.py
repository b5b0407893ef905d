"""The load cell's converter over the kernel's own driver, where that was built and switched on.

The kernel makes the pulses with interrupts off, so none is too long. It gives offset binary, and
its scale file is truncated: counts are taken, never its volts. Found by name, never by number, for
numbers change from start to start.

Source: Linux, drivers/iio/adc/hx711.c and Documentation/ABI/testing/sysfs-bus-iio.
"""

import errno
import logging
from pathlib import Path

from drainscale.drivers.frames.conversions import ConversionGuard
from drainscale.drivers.paths import BoardPaths
from drainscale.errors import SensorError, SensorMissingError
from drainscale.ports import Clock

log = logging.getLogger(__name__)

DRIVER_NAME = "hx711"
CHANNEL_A = "in_voltage0_raw"
ZERO = 1 << 23  # offset binary: what the bridge at rest reads
HIGHEST_RAW = (1 << 24) - 1
AGAIN_S = 0.005
LOOK_S = 0.012  # how long a word that is ready may wait for the kernel's look at the line
_SILENT = (errno.EIO, errno.ETIMEDOUT, errno.EAGAIN)


class IioLoadCell:
    """A ``LoadCell`` whose word is fetched by the kernel.

    A read cannot be cut short: with a silent converter the kernel tries for up to 2 s, and starts
    it anew meanwhile.
    """

    way = "iio"

    def __init__(self, name: str, clock: Clock, paths: BoardPaths) -> None:
        """Find the converter.

        Raises:
            SensorMissingError: The kernel has none by this name.
        """
        self.frames_dropped = 0
        self._name = name
        self._clock = clock
        self._file: Path | None = _find(name, paths.iio) / CHANNEL_A
        self._guard = ConversionGuard()

    def read(self, timeout_s: float) -> int | None:
        """Wait for the next conversion and return its count; see ``LoadCell.read``."""
        end_s = self._clock.now_s() + timeout_s
        while True:
            begin_s = self._clock.now_s()
            raw = self._raw()
            if raw is not None and self._is_usable(begin_s):
                return raw - ZERO
            if self._clock.now_s() >= end_s:
                return None
            if raw is None:
                self._clock.sleep(AGAIN_S)

    def close(self) -> None:
        """Let the file go; twice does no harm."""
        self._file = None

    def _is_usable(self, begin_s: float) -> bool:
        now_s = self._clock.now_s()
        if now_s - LOOK_S > begin_s:
            self._guard.idle(now_s - LOOK_S)
        if self._guard.is_suspect():
            self.frames_dropped += 1
            log.debug("frame-dropped scale=%s reason='it comes after a pause'", self._name)
            self._guard.restarted()
        return self._guard.is_usable(now_s)

    def _raw(self) -> int | None:
        if self._file is None:
            raise SensorError(f"{self._name} scale: was closed")
        try:
            with self._file.open(encoding="ascii") as opened:
                raw = int(opened.read())
        except ValueError:
            raw = -1
        except OSError as error:
            if error.errno not in _SILENT:
                raise SensorMissingError(
                    f"{self._name} scale: the kernel's driver went away: {error}"
                ) from error
            self._guard.restarted()
            return None
        if not 0 <= raw <= HIGHEST_RAW:  # an error number that was passed on as a sample
            self.frames_dropped += 1
            log.debug("frame-dropped scale=%s raw=%d", self._name, raw)
            return None
        return raw


def _find(name: str, devices: Path) -> Path:
    """Find the device with the scale's name as its label, or the only one, if it has no label."""
    found = [
        device for device in sorted(devices.glob("iio:device*")) if _says(device) == DRIVER_NAME
    ]
    for device in found:
        if _says(device, "label") == name:
            return device
    if name == "drain" and len(found) == 1 and not _says(found[0], "label"):
        return found[0]
    raise SensorMissingError(
        f"{name} scale: no {DRIVER_NAME} labelled {name!r} among the {len(found)} that the"
        f" kernel shows in {devices}"
    )


def _says(device: Path, file: str = "name") -> str:
    try:
        return (device / file).read_text(encoding="ascii").strip()
    except OSError:
        return ""
