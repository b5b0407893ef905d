"""The devices of a bench as functions that open them, so that each can be opened again."""

from collections.abc import Callable
from dataclasses import dataclass

from drainscale.ports import Clock, FootSwitch, Indicator, LoadCell, Thermometer


def _nothing() -> None:
    """Hold nothing, so let nothing go."""


@dataclass(frozen=True, slots=True)
class Devices:
    """How to open what hangs on the board's pins; ``close`` lets go of what they share.

    After ``close`` they can be opened again.
    """

    clock: Clock
    drain_cell: Callable[[], LoadCell]
    thermometer: Callable[[], Thermometer]
    indicator: Callable[[], Indicator]
    foot_switch: Callable[[], FootSwitch]
    supply_cell: Callable[[], LoadCell] | None = None
    close: Callable[[], None] = _nothing  # lets go what the devices shared, once they are closed
