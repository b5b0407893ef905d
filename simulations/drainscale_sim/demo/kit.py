"""The agent as a process of its own that tells on its standard output how the job goes.

    python -m drainscale_sim.demo.kit --socket PATH --folder FOLDER --scenario standpipe --seed 1

It is the program of `drainscale bench` on the simulated board; whoever reads its lines sets the
pace, for a pipe that is full makes it wait, and the world with it.
"""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from drainscale.agent.bench_file import UplinkTarget
from drainscale_sim.closed_loop.service import Place, serve
from drainscale_sim.demo.telling import Line, write
from drainscale_sim.demo.watcher import WatchedWires, Watcher
from drainscale_sim.leash import hold
from drainscale_sim.scenarios.draw import draw, scenario_names
from drainscale_sim.world.client import WorldClient

LOCAL = "127.0.0.1"
WORLD_S = 120.0  # how long the world may take for an answer


def main(argv: Sequence[str] | None = None) -> int:
    """Run the agent.

    Returns:
        0 if the job was done, 1 if not.
    """
    asked = _parser().parse_args(argv)
    job, place = draw(asked.scenario, asked.seed).job, Place(asked.folder)
    if asked.leash:
        hold()
    with WorldClient(asked.socket, timeout_s=WORLD_S) as world:
        wires = WatchedWires(world)
        watcher = Watcher(wires, _say)
        finished = serve(wires, world.is_over, job, asked.seed, place, watcher, _uplink(asked))
        watcher.ended(finished.answer, is_done=finished.is_done)
    return 0 if finished.is_done else 1


def _uplink(asked: argparse.Namespace) -> UplinkTarget | None:
    if asked.broker is None:
        return None
    return UplinkTarget(
        LOCAL, asked.broker, asked.username, str(asked.password_file), takes_orders=True
    )


def _say(line: Line) -> None:
    sys.stdout.buffer.write(write(line))
    sys.stdout.buffer.flush()


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m drainscale_sim.demo.kit")
    parser.add_argument("--socket", type=Path, required=True, help="the world's socket")
    parser.add_argument("--folder", type=Path, required=True, help="for spool and board")
    parser.add_argument("--scenario", default="standpipe", choices=scenario_names())
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--leash", action="store_true", help="end with the standard input")
    parser.add_argument("--broker", type=int, metavar="PORT", help="send there, and take orders")
    parser.add_argument("--username", help="at the broker")
    parser.add_argument("--password-file", type=Path, help="holds the password there")
    return parser


if __name__ == "__main__":
    sys.exit(main())
