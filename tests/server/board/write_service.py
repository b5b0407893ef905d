"""Writes service.jsonl.gz: what a kit told in one simulated service, a line a message.

    python -m tests.server.board.write_service

The board's tests play it; no figure in it is looked at by a test. The first line is the job's
spec; lines of type `live` are thinned to one in two seconds.
"""

import gzip
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import msgspec

from drainscale.core import Live
from drainscale.messages.records import Body, ResultFormed
from drainscale.messages.telegrams import figures_of
from drainscale_sim.closed_loop.service import Place, serve
from drainscale_sim.world.world import World

SCENARIO, SEED = "standpipe", 84
EVERY_S = 2.0
FILE = Path(__file__).with_name("service.jsonl.gz")
LEFT_OUT = ("forecasts", "events")  # of the result: long, and not on the board


class Recorder:
    """Writes down what an onlooker of the agent sees."""

    def __init__(self) -> None:
        self.lines: list[Any] = []
        self._next_t = 0.0
        self._last: object = None

    def told(self, body: Body) -> None:
        """Write a record down."""
        told = msgspec.to_builtins(body)
        if isinstance(body, ResultFormed):
            told["result"] = {k: v for k, v in body.result.items() if k not in LEFT_OUT}
        self.lines.append(told)

    def looked(self, live: Live) -> None:
        """Write the figures down, where they are due or the cue is new."""
        now = (live.cue, live.step)
        if live.t < self._next_t and now == self._last:
            return
        self._last, self._next_t = now, live.t + EVERY_S - 0.01
        cue = {"cue": live.cue.name, "cue_reason": live.cue.reason}
        self.lines.append({"type": "live", **cue, "figures": msgspec.to_builtins(figures_of(live))})


def main() -> None:
    """Run the service and write the file."""
    world, recorder = World.of(SCENARIO, SEED), Recorder()
    with TemporaryDirectory() as folder:
        serve(world, lambda: world.is_over, world.setup.job, SEED, Place(Path(folder)), recorder)
    spec = {"type": "spec", "spec": msgspec.to_builtins(world.setup.job)}
    lines = [msgspec.json.encode(line) for line in [spec, *recorder.lines]]
    # no time in the file's head: the same service gives the same bytes
    FILE.write_bytes(gzip.compress(b"\n".join(lines) + b"\n", mtime=0))
    sys.stdout.write(f"{FILE.name}: {len(lines)} lines, {FILE.stat().st_size} bytes\n")


if __name__ == "__main__":
    main()
