"""All devices of a bench, opened together and closed together."""

from contextlib import ExitStack
from dataclasses import dataclass
from typing import Self

from drainscale.drivers.gpio import GpioChip, GpioFootSwitch, GpioIndicator
from drainscale.drivers.load_cell import Way, open_load_cell
from drainscale.drivers.max31850 import OneWireThermometer
from drainscale.drivers.paths import BoardPaths
from drainscale.pins import Pins
from drainscale.ports import Clock, FootSwitch, Indicator, LoadCell, Thermometer


@dataclass(frozen=True, slots=True)
class BenchDevices:
    """What the agent works with; ``close`` frees all of it."""

    drain: LoadCell
    supply: LoadCell | None
    thermometer: Thermometer
    indicator: Indicator
    foot_switch: FootSwitch
    _held: ExitStack

    def close(self) -> None:
        """Lamps dark, sounder silent, pins and buses free; twice does no harm."""
        self._held.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def open_bench(
    wiring: Pins,
    clock: Clock,
    paths: BoardPaths | None = None,
    *,
    drain_way: Way = "auto",
    supply_way: Way | None = None,
) -> BenchDevices:
    """Open lamps, sounder, foot switch, scales and thermocouple.

    A sensor whose plug is out does not stop this: it is silent, or says so when it is read.

    Args:
        wiring: The pins.
        clock: The bench's clock.
        paths: Where the system keeps its devices.
        drain_way: How to read the scale under the container.
        supply_way: How to read the one under the jug; ``None``: there is none.

    Raises:
        SensorError: Pins or buses cannot be used; all that was opened is closed again.
    """
    paths = paths or BoardPaths()
    with ExitStack() as opening:
        chip = GpioChip()
        opening.callback(chip.close)
        indicator = GpioIndicator(wiring, chip)
        opening.callback(indicator.close)
        foot_switch = GpioFootSwitch(wiring, chip, clock)
        opening.callback(foot_switch.close)
        drain = open_load_cell("drain", wiring.scale.drain, clock, way=drain_way, paths=paths)
        opening.callback(drain.close)
        supply = None
        if supply_way is not None:
            supply = open_load_cell(
                "supply", wiring.scale.supply, clock, way=supply_way, paths=paths
            )
            opening.callback(supply.close)
        thermometer = OneWireThermometer(paths)
        opening.callback(thermometer.close)
        return BenchDevices(drain, supply, thermometer, indicator, foot_switch, opening.pop_all())
