"""The agent as a process of its own, on a board whose world is another process.

    python -m drainscale_sim.closed_loop.agent --socket PATH --folder FOLDER --scenario standpipe

It is the program of `drainscale bench`; what it keeps outlives it, and a job that is open in the
folder's spool is taken up again.
"""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

import msgspec

from drainscale_sim.closed_loop.service import Place, serve, serve_by_instruments
from drainscale_sim.scenarios.draw import draw, scenario_names
from drainscale_sim.world.client import WorldClient

ANSWER = "answer.json"


def main(argv: Sequence[str] | None = None) -> int:
    """Run the agent.

    Returns:
        0 if the job was done, 1 if not.
    """
    asked = _parser().parse_args(argv)
    job, place = draw(asked.scenario, asked.seed).job, Place(asked.folder)
    with WorldClient(asked.socket, timeout_s=120.0) as world:
        if asked.instruments:
            finished = serve_by_instruments(world, world.is_over, job, place)
        else:
            finished = serve(world, world.is_over, job, asked.seed, place)
    told = {"job": finished.job, "is_done": finished.is_done, "answer": finished.answer}
    (asked.folder / ANSWER).write_bytes(msgspec.json.encode(told))
    return 0 if finished.is_done else 1


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m drainscale_sim.closed_loop.agent")
    parser.add_argument("--socket", type=Path, required=True, help="the world's socket")
    parser.add_argument("--folder", type=Path, required=True, help="for spool and answer")
    parser.add_argument("--scenario", default="standpipe", choices=scenario_names())
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--instruments", action="store_true", help="faultless instruments instead of a board"
    )
    return parser


if __name__ == "__main__":
    sys.exit(main())
