"""Opens a scale's converter in the way that was chosen, or in the first that works."""

import logging
from collections.abc import Callable
from typing import Literal

from drainscale.drivers.hx711_bitbang import BitbangLoadCell
from drainscale.drivers.hx711_iio import IioLoadCell
from drainscale.drivers.hx711_spi import SpiLoadCell
from drainscale.drivers.paths import BoardPaths
from drainscale.errors import SensorError, SensorMissingError
from drainscale.pins import ScalePins
from drainscale.ports import Clock, LoadCell

log = logging.getLogger(__name__)

Way = Literal["auto", "spi", "iio", "bitbang"]
WAYS: tuple[Way, ...] = ("auto", "spi", "iio", "bitbang")


def open_load_cell(
    name: str, wiring: ScalePins, clock: Clock, *, way: Way = "auto", paths: BoardPaths
) -> LoadCell:
    """Open the converter of a scale.

    ``auto`` takes SPI where the bus is there, else the kernel's own driver where that is, else the
    package ``hx711`` where its pulses are short enough, and logs why.

    Args:
        name: ``drain`` or ``supply``, for messages.
        wiring: Its pins.
        clock: The bench's clock.
        way: How to read it.
        paths: Where the system keeps its devices.

    Raises:
        SensorMissingError: The way chosen is not there; with ``auto``: none is.
        SensorRefusedError: The way chosen would give wrong counts on this board.
    """
    openers: dict[str, Callable[[], LoadCell]] = {
        "spi": lambda: SpiLoadCell(name, wiring, clock, paths),
        "iio": lambda: IioLoadCell(name, clock, paths),
        "bitbang": lambda: BitbangLoadCell(name, wiring, clock),
    }
    if way != "auto":
        return openers[way]()
    reasons: list[str] = []
    for tried, opener in openers.items():
        try:
            opened = opener()
        except SensorError as error:
            reasons.append(f"{tried}: {str(error).removeprefix(f'{name} scale: ')}")
            continue
        log.info("load-cell scale=%s way=%s passed_over=%r", name, tried, "; ".join(reasons))
        return opened
    raise SensorMissingError(f"{name} scale: no way to read it: {'; '.join(reasons)}")
