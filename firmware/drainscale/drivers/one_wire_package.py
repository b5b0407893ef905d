"""The only place that calls into the package ``w1thermsensor``.

It is used for the bus alone: finding the sensor and fetching its lines. Its temperatures are not:
for this converter they pass over the fault bits (an open thermocouple reads as a number), and
exactly 85.00 °C, which hot oil passes through, raises. Written against ``KNOWN_VERSION``.
"""

import math
import os
from pathlib import Path
from typing import Any

from drainscale.drivers.frames.max31850 import FAMILY
from drainscale.errors import SensorMissingError

KNOWN_VERSION = "2.3.0"


class BusLines:
    """The lines that the kernel gives for the first thermocouple converter on the bus."""

    def __init__(self, folder: Path) -> None:
        """Find the converter.

        Raises:
            SensorMissingError: The bus, the package or the converter is not there.
        """
        if not folder.is_dir():
            raise SensorMissingError(
                f"thermocouple: no {folder}; switch 1-Wire on with dtoverlay=w1-gpio"
            )
        self._package = _load()
        bus = type(
            "Bus",
            (self._package.W1ThermSensor,),
            {"BASE_DIRECTORY": folder, "SENSOR_RESET_VALUE": math.nan},
        )
        kind = self._package.Sensor(FAMILY)
        try:
            self._sensor: Any = bus(kind)
        except (self._package.NoSensorFoundError, OSError) as error:
            raise SensorMissingError(
                "thermocouple: no converter on the 1-Wire bus; look at plug and cable"
            ) from error

    def first_line(self) -> str | None:
        """Fetch the bytes anew and return the first line; None if the bus gave nothing.

        Raises:
            SensorMissingError: The converter went away.
        """
        try:
            lines = self._sensor.get_raw_sensor_strings()
        except self._package.SensorNotReadyError:
            return None
        except self._package.NoSensorFoundError as error:
            raise SensorMissingError(
                "thermocouple: the converter went away; look at plug and cable"
            ) from error
        return str(lines[0])


def _load() -> Any:
    # its import would call modprobe and wait a second; the system's set-up does that once
    os.environ.setdefault("W1THERMSENSOR_NO_KERNEL_MODULE", "1")
    try:
        import w1thermsensor
    except ImportError as error:
        raise SensorMissingError("thermocouple: the package w1thermsensor is missing") from error
    return w1thermsensor
