"""A service in closed loop for the demo: world, kit, server and this screen are processes each.

The job is ordered at the server, as from its board; the kit takes it from the broker, and all
that it measures goes there. Whichever way this process ends, the others end with it.
"""

import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from types import FrameType
from typing import Any

import msgspec

from drainscale.quantities.job import Job
from drainscale.recording.job_file import job_text
from drainscale_sim.closed_loop.judging import Judged, judge
from drainscale_sim.closed_loop.processes import Run
from drainscale_sim.demo.running import Running
from drainscale_sim.demo.shop import Shop
from drainscale_sim.scenarios.draw import draw
from drainscale_sim.score.truth import Truth
from drainscale_sim.world.client import WorldClient

SCENARIO, SEED = "standpipe", 84  # a clean service
ABOUT_S = 2015.0
END_S = 150.0  # how long the kit's process may take to go; until the server has all
LOG = "kit.log"
# what the board's form would ask for; people, shop and fluid are made up
RECORD: dict[str, Any] = {
    "shop": "Bay One, North Yard",
    "technician": "R. Tallow",
    "fluid_name": "Selva 6, made up",
    "fluid_lot": "demo",
    "mileage_km": 118_400.0,
    "old_fluid": "dark, smells of nothing burnt",
    "washers_renewed": ["drain plug"],
    "remarks": "Simulated: kit, technician and vehicle acted upon each other.",
}
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
        shop: The server, started; ``None``: without one.
    """

    def __init__(
        self, scenario: str, seed: int, folder: Path, world: WorldClient, shop: Shop | None = None
    ) -> None:
        self._folder, self.world, self.shop = folder, world, shop
        setup = draw(scenario, seed)
        self.name = self.title = f"{scenario} {seed}"
        self.job: Job = setup.job
        self.job_id = ""
        command = [sys.executable, "-m", "drainscale_sim.demo.kit"]
        command += ["--socket", str(folder / "world"), "--folder", str(folder)]
        command += ["--scenario", scenario, "--seed", str(seed), "--leash"]
        if shop is not None:
            self.title += f"  board {shop.url}"
            self.job_id = shop.order(
                job_text(self.job), f"{setup.make}, {self.name}", RECORD | {"vehicle": setup.make}
            )
            access = shop.access
            command += ["--broker", str(access.port), "--username", access.username]
            command += ["--password-file", str(access.password_file)]
        with (folder / LOG).open("wb") as log:
            # a session of its own: an interrupt from the keyboard is this process's to handle
            self.kit = subprocess.Popen(
                command,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=log,
                start_new_session=True,
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
            told: dict[str, Any] = self.world.truth(self.name)
        except ValueError:  # the level plug was never opened
            return Outcome()
        presses = self.running.signals.presses
        judged = judge(answer, told, is_done=self.running.is_done, presses=presses)
        return Outcome(msgspec.convert(told, Truth), judged)

    def close(self) -> None:
        """End the kit's process, if it still runs."""
        self.kit.kill()
        self.kit.wait()
        for pipe in (self.kit.stdin, self.kit.stdout):
            if pipe is not None:
                pipe.close()


@contextmanager
def open_shop(folder: Path, say: Callable[[str], None]) -> Iterator[Shop]:
    """Start a server; it ends with the block.

    Args:
        folder: For its data; to be made.
        say: Told the board's address, as soon as it is there.

    Raises:
        ShopError: It could not be started.
    """
    folder.mkdir()
    shop = Shop(folder)
    try:
        shop.enrol()
        shop.start()
        say(f"board {shop.board}")
        yield shop
    finally:
        shop.close()


@contextmanager
def closed_loop(
    scenario: str, seed: int, say: Callable[[str], None] | None = None
) -> Iterator[ClosedLoop]:
    """Start world, server and kit as processes of their own; all end with the block.

    Args:
        scenario: What happens.
        seed: Which vehicle and day.
        say: Told the board's address; ``None``: without a server.

    Raises:
        OSError: The world could not be started.
        ShopError: The server could not.
    """
    before = [(what, signal.signal(what, _leave)) for what in (signal.SIGTERM, signal.SIGHUP)]
    try:
        with TemporaryDirectory(prefix="demo-") as name:
            folder = Path(name)
            shop: AbstractContextManager[Shop | None] = nullcontext()
            if say is not None:
                shop = open_shop(folder / "shop", say)
            with Run(scenario, seed, folder).world() as world, shop as started:
                loop = ClosedLoop(scenario, seed, folder, world, started)
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
