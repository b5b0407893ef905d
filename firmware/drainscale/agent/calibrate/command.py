"""Calibrate a scale with weights: asks for one after the other, prints what the bench file gets.

Stop the agent first: both need the same pins. Nothing is written: paste the lines yourself.
"""

import argparse
import logging
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

from drainscale.agent.bench_file import Bench, read_bench
from drainscale.agent.calibrate.weighing import Outcome, outcome, readings, toml_lines
from drainscale.agent.command import open_devices
from drainscale.agent.devices import Devices
from drainscale.agent.selftest.command import AtTerminal
from drainscale.agent.selftest.findings import Person
from drainscale.drivers.paths import BoardPaths
from drainscale.drivers.system_clock import SystemClock
from drainscale.errors import InputError
from drainscale.quantities.calibration import Calibration

SECONDS = 20.0
UP_AND_DOWN_SHARES = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.4, 0.3, 0.2, 0.1, 0.0)
M1_U_KG = 0.0003  # OIML R 111: 5 kg of class M1 within 0.25 g, twice, rectangular; rounded up


def main(argv: Sequence[str]) -> int:
    """Run ``drainscale calibrate``; return the exit status."""
    options = _options(argv)
    logging.basicConfig(stream=sys.stderr, level=logging.WARNING, format="%(name)s %(message)s")
    bench = read_bench(options.config)
    devices = open_devices(bench, SystemClock(), BoardPaths())
    return calibrate(bench, devices, AtTerminal(), options)


def calibrate(bench: Bench, devices: Devices, person: Person, options: argparse.Namespace) -> int:
    """Take the readings and print what they say; 1 if they cannot be believed."""
    present = bench.supply_scale if options.supply else bench.scale
    open_it = devices.supply_cell if options.supply else devices.drain_cell
    if present is None or open_it is None:
        raise InputError("no [supply_scale] in the bench file")
    weights_kg = options.weights or usual_weights_kg(present.capacity_kg)
    heaviest_kg = max(weights_kg)
    if heaviest_kg > present.capacity_kg or min(weights_kg) < 0.0:
        raise InputError(f"weights from 0 to {present.capacity_kg:g} kg, not {heaviest_kg:g} kg")
    taken, kg_per_count = [], Calibration(present).count_resolution_kg
    try:
        for one in readings(open_it, devices.clock, person, weights_kg, seconds=options.seconds):
            taken.append(one)
            noise_g = 1000.0 * one.noise_counts * kg_per_count
            print(f"{one.kg:8.3f} kg  {one.counts:12.1f} counts  noise {noise_g:.2f} g", flush=True)
    finally:
        devices.close()
    found = outcome(taken, present, options.u_kg)
    print("\n".join(_lines(found, "supply_scale" if options.supply else "scale")))
    return 1 if found.complaints else 0


def usual_weights_kg(capacity_kg: float) -> tuple[float, ...]:
    """Return what is asked for unless somebody names other weights: up to half the capacity.

    More could reach the platform's overload stops.
    """
    return tuple(round(share * capacity_kg, 3) for share in UP_AND_DOWN_SHARES)


def _lines(found: Outcome, table: str) -> Iterator[str]:
    """Say how good it is; only of one that can be believed, what to paste."""
    off_g, apart_g = 1000 * found.off_line_kg, 1000 * found.up_down_kg
    yield f"off one line {off_g:.1f} g, up and down {apart_g:.1f} g"
    if found.complaints:
        yield from (f"FAIL {complaint}; do it again" for complaint in found.complaints)
        return
    yield from ("", f"[{table}]")
    yield from toml_lines(found.settings)


def _options(argv: Sequence[str]) -> argparse.Namespace:
    return parser().parse_args(argv)


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = argparse.ArgumentParser(prog="drainscale calibrate", description=__doc__)
    made.add_argument("--config", type=Path, required=True, help="the bench file")
    made.add_argument("--supply", action="store_true", help="the supply scale, not the drain scale")
    made.add_argument(
        "--weights", type=float, nargs="+", metavar="KG",
        help="in the order in which they are asked for; the same one twice is averaged; otherwise"
        " 0 to half the capacity in five steps, up and down",
    )  # fmt: skip
    made.add_argument(
        "--u-kg", type=float, default=M1_U_KG, help="standard uncertainty of each weight"
    )
    made.add_argument("--seconds", type=float, default=SECONDS, help="how long each is read")
    return made
