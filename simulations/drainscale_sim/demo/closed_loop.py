"""A service in closed loop for the demo: world, kit and this screen are three processes."""

import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from types import FrameType
from typing import Any

import msgspec

from drainscale.quantities.job import Job
from drainscale_sim.closed_loop.judging import Judged, judge
from drainscale_sim.closed_loop.processes import Run
from drainscale_sim.demo.running import Running
from drainscale_sim.scenarios.draw import draw
from drainscale_sim.score.truth import Truth
from drainscale_sim.world.client import WorldClient

SCENARIO, SEED = "standpipe", 84  # a clean service
ABOUT_S = 2015.0
END_S = 30.0  # how long the kit's process may take to go
LOG = "kit.log"
LAST_WORDS = 3  # lines of the log that are told when the kit broke


@dataclass(frozen=True)
class Outcome:
    """What there is at the end, beside the kit's own record.

    Attributes:
        truth: What truly happened; ``None`` where the service was left half-way.
        judged: The service held against it.
        broken: Why the kit's process did not end by itself; empty: it did.
    """

    truth: Truth | None = None
    judged: Judged | None = None
    broken: list[str] = field(default_factory=list)


class ClosedLoop:
    """One service in closed loop.

    Args:
        scenario: What happens.
        seed: Which vehicle and day.
        folder: For spool, board and socket.
        world: The world, its process started.
    """

    def __init__(self, scenario: str, seed: int, folder: Path, world: WorldClient) -> None:
        self._folder, self.world = folder, world
        self.title = f"{scenario} {seed}"
        self.job: Job = draw(scenario, seed).job
        command = [sys.executable, "-m", "drainscale_sim.demo.kit"]
        command += ["--socket", str(folder / "world"), "--folder", str(folder)]
        command += ["--scenario", scenario, "--seed", str(seed)]
        with (folder / LOG).open("wb") as log:
            # a session of its own: an interrupt from the keyboard is this process's to handle
            self.kit = subprocess.Popen(
                command, stdout=subprocess.PIPE, stderr=log, start_new_session=True
            )
        assert self.kit.stdout is not None
        self.running = Running(self.kit.stdout, ABOUT_S)

    def outcome(self) -> Outcome:
        """Wait for the kit's end and hold the service against the truth."""
        status = self.kit.wait(END_S)
        answer = self.running.answer
        if answer is None:
            words = (self._folder / LOG).read_text("utf-8", "replace").splitlines()
            return Outcome(broken=[f"the kit's process ended with {status}", *words[-LAST_WORDS:]])
        try:
            told: dict[str, Any] = self.world.truth(self.title)
        except ValueError:  # the level plug was never opened
            return Outcome()
        presses = self.running.signals.presses
        judged = judge(answer, told, is_done=self.running.is_done, presses=presses)
        return Outcome(msgspec.convert(told, Truth), judged)

    def close(self) -> None:
        """End the kit's process, if it still runs."""
        self.kit.kill()
        self.kit.wait()
        if self.kit.stdout is not None:
            self.kit.stdout.close()


@contextmanager
def closed_loop(scenario: str, seed: int) -> Iterator[ClosedLoop]:
    """Start world and kit as processes of their own; both end with the block.

    Raises:
        OSError: The world could not be started.
    """
    before = [(what, signal.signal(what, _leave)) for what in (signal.SIGTERM, signal.SIGHUP)]
    try:
        with TemporaryDirectory(prefix="demo-") as name:
            folder = Path(name)
            with Run(scenario, seed, folder).world() as world:
                loop = ClosedLoop(scenario, seed, folder, world)
                try:
                    yield loop
                finally:
                    loop.close()
    finally:
        for what, handler in before:
            signal.signal(what, handler)


def _leave(number: int, _frame: FrameType | None) -> None:
    """End through the blocks that end the other processes."""
    raise SystemExit(128 + number)
