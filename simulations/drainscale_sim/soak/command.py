"""Run services in closed loop, replay, kill and cut them off, and say of each claim if it holds.

World, technician, simulated board, drivers and agent act upon each other as on a real bench; the
technician does what the lamps say. Four parts: whether the services end sealed in the window,
whether their recordings replay to the live answers, what killing the agent costs, and what a
broker that is gone costs.
"""

import argparse
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

from drainscale_sim.scenarios.draw import scenario_names
from drainscale_sim.soak.parts import PARTS, Plan, run
from drainscale_sim.soak.summary import claims_table, new_console, status_of
from drainscale_sim.soak.work import working

SCENARIOS = ("standpipe", "check-plug")
SEEDS = 20
KILLS = 20


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command.

    Returns:
        0 if every claim holds, else 1.
    """
    parser = _parser()
    asked = parser.parse_args(argv)
    plan = Plan(
        frozenset(asked.only or PARTS),
        tuple(dict.fromkeys(asked.scenario or SCENARIOS)),
        range(asked.seed, asked.seed + asked.count),
        asked.kills,
    )
    if not plan.pieces_n:
        parser.error("that leaves nothing to run")
    print(f"seeds {plan.seeds[0]} to {plan.seeds[-1]} of {', '.join(plan.names)}\n", flush=True)
    console = new_console()
    with (
        TemporaryDirectory(prefix="soak-") as folder,
        working(asked.processes, plan.pieces_n) as work,
    ):
        claims = run(plan, work, Path(folder), console.print)
        took = work.lasted()
    console.print(claims_table(claims))
    held_n = sum(one.holds for one in claims)
    print(f"{held_n} of {len(claims)} claims hold; took {took}, {asked.processes} at a time")
    return status_of(claims)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="drainscale soak", description=__doc__)
    parser.add_argument(
        "--only", action="append", choices=PARTS, help="this part; again for more than one"
    )
    parser.add_argument(
        "--scenario", action="append", choices=scenario_names(), help="again for more than one"
    )
    parser.add_argument("--seed", type=int, default=1, help="the first seed")
    parser.add_argument("--count", type=_from_1, default=SEEDS, help="how many seeds of each")
    parser.add_argument(
        "--kills",
        type=_from_0,
        default=KILLS,
        metavar="N",
        help=f"how often the agent of each first seed's job is killed ({KILLS}); 0: not at all",
    )
    parser.add_argument("--processes", type=_from_1, default=2, help="how many at a time")
    return parser


def _from_1(text: str) -> int:
    return _at_least(1, text)


def _from_0(text: str) -> int:
    return _at_least(0, text)


def _at_least(least: int, text: str) -> int:
    number = int(text)
    if number < least:
        raise argparse.ArgumentTypeError(f"{number} is too few: {least} or more")
    return number
