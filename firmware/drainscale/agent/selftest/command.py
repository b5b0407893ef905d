"""Test the bench's wiring and sensors, without oil and without a vehicle.

    drainscale selftest --config bench.toml

Stop the agent first: both need the same pins. The platforms are to be empty and the thermocouple
is to lie in the air; say so if they are not. Exits with 1 if any check failed.
"""

import argparse
import logging
import sys
from collections.abc import Sequence
from pathlib import Path

from drainscale.agent.bench_file import read_bench
from drainscale.agent.command import open_devices
from drainscale.agent.selftest.findings import Finding, Nobody, Person
from drainscale.agent.selftest.selftest import Standing, self_test, told
from drainscale.drivers.paths import BoardPaths
from drainscale.drivers.system_clock import SystemClock


class AtTerminal:
    """A ``Person`` at this terminal."""

    is_there = True

    def confirms(self, question: str) -> bool:
        """Ask until the answer is yes or no; the end of the input is a no."""
        while True:
            try:
                answer = input(f"{question} [y/n] ").strip().lower()
            except EOFError:
                return False
            if answer in ("y", "yes", "n", "no"):
                return answer.startswith("y")

    def does(self, request: str) -> None:
        """Ask, and wait for Enter."""
        try:
            input(f"{request} Then press Enter. ")
        except EOFError:
            return

    def is_told(self, notice: str) -> None:
        """Print it."""
        print(notice, flush=True)


def main(argv: Sequence[str]) -> int:
    """Run ``drainscale selftest``; return the exit status."""
    options = _options(argv)
    logging.basicConfig(stream=sys.stderr, level=logging.WARNING, format="%(name)s %(message)s")
    bench = read_bench(options.config)
    devices = open_devices(bench, SystemClock(), BoardPaths())
    person: Person = Nobody() if options.yes else AtTerminal()
    standing = Standing(is_loaded=options.loaded, is_warm=options.warm)
    found = told(self_test(bench, devices, person, standing), lambda line: print(line, flush=True))
    return exit_status(found)


def exit_status(found: Sequence[Finding]) -> int:
    """Return 1 if any check failed; what was not asked is no failure."""
    return 1 if any(one.verdict == "FAIL" for one in found) else 0


def _options(argv: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="drainscale selftest", description=__doc__)
    parser.add_argument("--config", type=Path, required=True, help="the bench file")
    parser.add_argument(
        "--yes", action="store_true", help="ask nothing; what needs a person is left open"
    )
    parser.add_argument(
        "--loaded", action="store_true", help="a container stands on the drain scale"
    )
    parser.add_argument("--warm", action="store_true", help="the thermocouple is on a warm pan")
    return parser.parse_args(argv)
