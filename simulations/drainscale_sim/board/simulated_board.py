"""The board put together: chips and switches on the pins of ``pins.toml``, one world behind them.

    board = SimulatedBoard(world, folder)
    with board.installed():
        cell = open_load_cell("drain", pins().scale.drain, board.clock, paths=board.paths)

Within ``installed`` the packages of the Pi (rpi-lgpio, hx711, gpiozero, w1thermsensor) run
unchanged; they find the stand-ins where they look for ``lgpio`` and ``spidev``.
"""

import importlib
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from types import ModuleType
from unittest.mock import patch

from drainscale.drivers.paths import BoardPaths
from drainscale.pins import Pins, ScalePins, pins
from drainscale_sim.bench_world import BenchWorld, Scale
from drainscale_sim.board.clock import BoardClock, BoardTime
from drainscale_sim.board.foot_switch import SimulatedFootSwitch
from drainscale_sim.board.hx711_chip import Hx711Chip
from drainscale_sim.board.iio_tree import IioTree
from drainscale_sim.board.lgpio_stand_in import LgpioCalls, lgpio_module
from drainscale_sim.board.lines import Lines
from drainscale_sim.board.max31850_chip import Max31850Chip
from drainscale_sim.board.one_wire_tree import OneWireTree
from drainscale_sim.board.outputs import Outputs
from drainscale_sim.board.spidev_stand_in import spidev_module

ZERO_2_W = 0x902120  # the board that this one says it is (Raspberry Pi revision codes)
# these bind lgpio or spidev when they are imported, so each board needs them anew
_BOUND = ("lgpio", "spidev", "RPi", "RPi.GPIO", "hx711", "gpiozero.pins.lgpio")


@dataclass(frozen=True, slots=True)
class BoardSettings:
    """What may differ from board to board."""

    drain_rate_Hz: float = 10.0
    supply_rate_Hz: float = 10.0
    seed: int = 0
    has_spi: bool = True
    has_one_wire: bool = True
    has_iio: bool = False  # the kernel's own driver for the load cells
    is_wall_set: bool = True


class SimulatedBoard:
    """A board in the kit's process, on the clock of a world that may be anywhere."""

    def __init__(
        self,
        world: BenchWorld,
        folder: Path,
        settings: BoardSettings | None = None,
        wiring: Pins | None = None,
    ) -> None:
        """Put the board together.

        Args:
            world: What the sensors see, and who sees the lamps.
            folder: An empty folder for the board's device nodes and its 1-Wire tree.
            settings: Rates, faults of the build, seed of the bounce.
            wiring: The pins; the kit's own where not given.
        """
        self.settings = settings or BoardSettings()
        self.wiring = wiring or pins()
        self.clock = BoardClock(world, is_wall_set=self.settings.is_wall_set)
        self.lines = Lines(self.clock)
        scales = self.wiring.scale
        self.drain = self._load_cell(world, "drain", scales.drain, self.settings.drain_rate_Hz)
        self.supply = self._load_cell(world, "supply", scales.supply, self.settings.supply_rate_Hz)
        self.thermocouple = Max31850Chip(world.pan_skin_C, world.board_C, world.pan_fault)
        self.one_wire = OneWireTree(folder / "w1", self.thermocouple, self.clock)
        cells = {"drain": self.drain, "supply": self.supply} if self.settings.has_iio else {}
        self.iio = IioTree(folder / "iio", cells, self.clock)
        self.foot_switch = SimulatedFootSwitch(
            self.lines,
            self.wiring.foot_switch,
            self.clock,
            world.foot_switch_pressed,
            self.settings.seed,
        )
        self.outputs = Outputs(self.lines, self.wiring, world)
        self.paths = self._make_paths(folder)

    @contextmanager
    def installed(self) -> Iterator[None]:
        """Let this process find the board where the Pi's packages look for theirs."""
        before = {name: sys.modules.pop(name) for name in _BOUND if name in sys.modules}
        sys.modules["lgpio"] = lgpio_module(LgpioCalls(self.lines))
        sys.modules["spidev"] = self._spidev()
        environment = {"RPI_LGPIO_REVISION": f"{ZERO_2_W:x}", "RPI_LGPIO_CHIP": "0"}
        try:
            with (
                patch.dict(os.environ, environment),
                patch("gpiozero.pins.local.get_pi_revision", lambda: ZERO_2_W),
            ):
                importlib.import_module("hx711").time = BoardTime(self.clock)  # type: ignore[attr-defined]
                yield
        finally:
            for name in _BOUND:
                sys.modules.pop(name, None)
            sys.modules.update(before)

    def _load_cell(
        self, world: BenchWorld, name: Scale, wiring: ScalePins, rate_Hz: float
    ) -> Hx711Chip:
        chip = Hx711Chip(
            partial(world.bridge_counts, name),
            partial(world.scale_fault, name),
            rate_Hz=rate_Hz,
            born_s=self.clock.now_s(),
        )
        self.lines.watch(wiring.clock, lambda level, t_s: chip.clock(bool(level), t_s))
        self.lines.lines[wiring.data].source = chip.data
        return chip

    def _spidev(self) -> ModuleType:
        scales = self.wiring.scale
        chips = {
            (scales.drain.spi_bus, scales.drain.spi_device): self.drain,
            (scales.supply.spi_bus, scales.supply.spi_device): self.supply,
        }
        return spidev_module(self.clock, chips if self.settings.has_spi else {})

    def _make_paths(self, folder: Path) -> BoardPaths:
        devices = folder / "dev"
        devices.mkdir()
        if self.settings.has_spi:
            for scale in (self.wiring.scale.drain, self.wiring.scale.supply):
                (devices / f"spidev{scale.spi_bus}.{scale.spi_device}").touch()
        one_wire = self.one_wire.path if self.settings.has_one_wire else folder / "no-w1"
        time_is_set = folder / "time-is-set"
        if self.settings.is_wall_set:
            time_is_set.touch()
        return BoardPaths(
            devices=devices, one_wire=one_wire, iio=self.iio.path, time_is_set=time_is_set
        )
