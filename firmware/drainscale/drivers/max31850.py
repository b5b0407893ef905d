"""The clamp-on thermocouple's converter on the 1-Wire bus."""

import logging

from drainscale.drivers.frames import max31850 as frames
from drainscale.drivers.one_wire_package import BusLines
from drainscale.drivers.paths import BoardPaths
from drainscale.errors import FrameError, SensorError, SensorMissingError
from drainscale.ports import PanSensorFrame

log = logging.getLogger(__name__)


class OneWireThermometer:
    """A ``Thermometer``: the package fetches the bytes, ``frames.max31850`` says what they mean.

    The converter is looked for when it is first read, and anew after it went away: a plug that is
    out at the start keeps nothing from starting, and one that is put in again is found.
    """

    def __init__(self, paths: BoardPaths) -> None:
        self.frames_dropped = 0
        self._folder = paths.one_wire
        self._lines: BusLines | None = None
        self._is_closed = False

    def read(self) -> PanSensorFrame | None:
        """Convert once, which takes 0.1 to 2 s, and return what came; see ``Thermometer.read``."""
        if self._is_closed:
            raise SensorError("thermocouple: was closed")
        if self._lines is None:
            self._lines = BusLines(self._folder)
        try:
            line = self._lines.first_line()
        except SensorMissingError:
            self._lines = None
            raise
        if line is None:
            self.frames_dropped += 1
            return None
        try:
            return frames.decode_line(line)
        except FrameError as error:
            self.frames_dropped += 1
            log.debug("frame-dropped sensor=pan reason=%r", str(error))
            return None

    def close(self) -> None:
        """Let the bus go; twice does no harm."""
        self._lines = None
        self._is_closed = True
