"""Run the bench: read the sensors, measure, cue the technician, keep and send everything.

    drainscale bench --config bench.toml --order order.toml

A job that a killed bench left open is taken up again, without an order. Without an order, and
with `takes_orders` in the bench file, it does the jobs that the board orders, until it is stopped.
"""

import argparse
import logging
import signal
import sys
import threading
from collections.abc import Sequence
from pathlib import Path
from types import FrameType

from drainscale.agent.bench_file import Bench, read_bench, read_order
from drainscale.agent.devices import Devices
from drainscale.agent.program import Finished, Program
from drainscale.drivers.gpio import GpioChip, GpioFootSwitch, GpioIndicator
from drainscale.drivers.load_cell import open_load_cell
from drainscale.drivers.max31850 import OneWireThermometer
from drainscale.drivers.paths import BoardPaths
from drainscale.drivers.system_clock import SystemClock
from drainscale.errors import InputError
from drainscale.pins import pins
from drainscale.ports import Clock
from drainscale.replay.summary import summary_lines

KERNEL_BOOT = Path("/proc/sys/kernel/random/boot_id")


def main(argv: Sequence[str]) -> int:
    """Run ``drainscale bench``; return the exit status."""
    options = _options(argv)
    logging.basicConfig(
        stream=sys.stdout, level=logging.INFO, format="%(levelname)s %(name)s %(message)s"
    )
    bench = read_bench(options.config)
    order = None if options.order is None else read_order(options.order)
    clock = SystemClock()
    devices = open_devices(bench, clock, BoardPaths())
    if options.gate and order is None and bench.takes_orders:
        raise InputError("--gate answers for the job of an --order; there is none")
    program = Program(bench, order, devices, kernel_boot(), options.gate)
    if order is None and bench.takes_orders:
        program.serve(_stop_on_signals(), _say)
    else:
        _say(program.run(_stop_on_signals()))
    return 0


def _say(finished: Finished) -> None:
    print("\n".join(summary_lines(finished.answer)), flush=True)


def _options(argv: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="drainscale bench", description=__doc__)
    parser.add_argument("--config", type=Path, required=True, help="the bench file")
    parser.add_argument("--order", type=Path, help="[procedure] and [fluid] of the service")
    parser.add_argument(
        "--gate", action="append", default=[], metavar="ID[=ANSWER]", help="a gate answered before"
    )
    return parser.parse_args(argv)


def open_devices(bench: Bench, clock: Clock, paths: BoardPaths) -> Devices:
    """Say how the devices on a board's pins are opened.

    Args:
        bench: What the bench file says.
        clock: The bench's clock.
        paths: Where the system keeps its devices.
    """
    wiring, chip = pins(), _Once()
    scales = wiring.scale
    supply = None
    if bench.supply_scale is not None:
        supply = lambda: open_load_cell(  # noqa: E731  the other devices read the same way
            "supply", scales.supply, clock, way=bench.way, paths=paths
        )
    return Devices(
        clock=clock,
        drain_cell=lambda: open_load_cell("drain", scales.drain, clock, way=bench.way, paths=paths),
        thermometer=lambda: OneWireThermometer(paths),
        indicator=lambda: GpioIndicator(wiring, chip.get()),
        foot_switch=lambda: GpioFootSwitch(wiring, chip.get(), clock),
        supply_cell=supply,
        close=chip.close,
    )


class _Once:
    """The pins' chip, opened when first needed and shared."""

    def __init__(self) -> None:
        self._chip: GpioChip | None = None

    def get(self) -> GpioChip:
        if self._chip is None:
            self._chip = GpioChip()
        return self._chip

    def close(self) -> None:
        if self._chip is not None:
            self._chip.close()
            self._chip = None


def kernel_boot() -> str:
    """Name this start of the machine, empty where the system does not tell."""
    try:
        return KERNEL_BOOT.read_text(encoding="ascii").strip()
    except OSError:
        return ""


def _stop_on_signals() -> threading.Event:
    stop = threading.Event()

    def on_signal(_number: int, _frame: FrameType | None) -> None:
        stop.set()

    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, on_signal)
    return stop
