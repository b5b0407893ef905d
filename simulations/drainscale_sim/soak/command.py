"""Run many services in closed loop, each seed another vehicle and day, and judge each.

World, technician, simulated board, drivers and agent act upon each other as on a real bench; the
technician does what the lamps say. A service is right when the plug was shut in the window, at
the kit's word, with the level within 60 mL of the rim.
"""

import argparse
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory

from rich.console import Console
from rich.table import Table

from drainscale_sim.closed_loop.judging import Judged, LEVEL_OFF_mL
from drainscale_sim.closed_loop.service import serve_scenario
from drainscale_sim.scenarios.draw import scenario_names
from drainscale_sim.soak.kills import kill_and_compare

SCENARIOS = ("standpipe", "check-plug")
SEEDS = 20
LEAST_RIGHT = 0.9
WIDTH = 120  # columns of the tables

Case = tuple[str, int, Path]


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command.

    Returns:
        0 if nine in ten services of each scenario are right, else 1.
    """
    asked = _parser().parse_args(argv)
    names = asked.scenario or list(SCENARIOS)
    seeds = range(asked.seed, asked.seed + asked.count)
    print(f"seeds {seeds[0]} to {seeds[-1]} of {', '.join(names)}", flush=True)
    console, is_good = Console(), True
    if not console.is_terminal:  # into a file nothing has to be cut short
        console = Console(width=WIDTH)
    with TemporaryDirectory(prefix="soak-") as folder:
        if asked.kills:
            return _kill(names, asked.seed, asked.kills, Path(folder))
        cases = [(name, seed, Path(folder)) for name in names for seed in seeds]
        judged = dict(_run(cases, asked.processes))
    for name in names:
        rows = [judged[name, seed] for seed in seeds]
        console.print(_table(name, rows))
        right = sum(isinstance(row, Judged) and row.is_sealed_right for row in rows)
        is_good &= right >= LEAST_RIGHT * len(rows)
        console.print(
            f"{name}: {right} of {len(rows)} sealed in the window and within "
            f"{LEVEL_OFF_mL:.0f} mL of the rim; {LEAST_RIGHT:.0%} have to be\n"
        )
    return 0 if is_good else 1


def _kill(names: Sequence[str], seed: int, n: int, folder: Path) -> int:
    is_good = True
    for name in names:
        tried = kill_and_compare(name, seed, n, folder)
        print("\n".join(tried.lines()), flush=True)
        is_good &= tried.is_good
    return 0 if is_good else 1


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="drainscale soak", description=__doc__)
    parser.add_argument(
        "--scenario", action="append", choices=scenario_names(), help="again for more than one"
    )
    parser.add_argument("--seed", type=int, default=1, help="the first seed")
    parser.add_argument("--count", type=int, default=SEEDS, help="how many seeds of each")
    parser.add_argument(
        "--kills", type=int, metavar="N", help="kill the agent N times in the first seed's job"
    )
    parser.add_argument("--processes", type=int, default=2, help="how many at a time")
    return parser


def _run(cases: Sequence[Case], processes: int) -> Iterator[tuple[tuple[str, int], Judged | str]]:
    with ProcessPoolExecutor(processes, get_context("spawn")) as pool:
        for (name, seed, _), judged in zip(cases, pool.map(_serve, cases), strict=True):
            told = judged if isinstance(judged, str) else judged.verdict
            print(f"{name} {seed}: {told}", file=sys.stderr, flush=True)
            yield (name, seed), judged


def _serve(case: Case) -> Judged | str:
    """Run one service; a line of why where it came to nothing."""
    name, seed, folder = case
    try:
        return serve_scenario(name, seed, folder / f"{name}-{seed}").judged
    except (ValueError, RuntimeError) as error:  # the level plug was never opened
        return str(error)


def _table(name: str, rows: Sequence[Judged | str]) -> Table:
    table = Table(title=name, title_justify="left")
    for head in ("seed", "took s", "verdict", "tries", "shut at °C", "above rim mL"):
        table.add_column(head, justify="left" if head == "verdict" else "right")
    for head in ("of limit mL", "drained off mL", "added off g", "spilled off g", "right"):
        table.add_column(head, justify="right")
    for row in rows:
        if isinstance(row, str):
            table.add_row("", "", row, *[""] * 7, "NO")
            continue
        table.add_row(
            row.name.rpartition("-")[2],
            f"{row.took_s:.0f}",
            row.verdict,
            str(row.attempts),
            f"{row.shut_C:.1f}",
            f"{row.excess_mL:.0f}",
            f"{row.thin_mL:.0f}",
            f"{row.drained_off_mL:+.1f}",
            f"{row.added_off_g:+.1f}",
            f"{row.spilled_off_g:+.1f}",
            "yes" if row.is_sealed_right else "NO",
        )
    return table
