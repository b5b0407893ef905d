"""The devices of a bench as functions that open them, so that each can be opened again."""

from collections.abc import Callable
from dataclasses import dataclass

from drainscale.ports import Clock, FootSwitch, Indicator, LoadCell, Thermometer


def _nothing() -> None:
    """Nothing has to be let go."""


@dataclass(frozen=True, slots=True)
class Devices:
    """How to open what hangs on the board's pins."""

    clock: Clock
    drain_cell: Callable[[], LoadCell]
    thermometer: Callable[[], Thermometer]
    indicator: Callable[[], Indicator]
    foot_switch: Callable[[], FootSwitch]
    supply_cell: Callable[[], LoadCell] | None = None
    close: Callable[[], None] = _nothing  # lets go what the devices shared, once they are closed
