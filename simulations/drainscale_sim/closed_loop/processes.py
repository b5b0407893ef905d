"""World and agent as processes of their own: started, killed, set back, started again."""

import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec

from drainscale.messages.records import JobClosed, ResultFormed
from drainscale_sim.closed_loop.agent import ANSWER
from drainscale_sim.closed_loop.export import history, last_kept_s, open_job_of
from drainscale_sim.closed_loop.service import Place
from drainscale_sim.world.client import WorldClient

START_S = 60.0
NOT_DONE = 1  # the agent's status where its job did not come to its end
LOOK_S = 0.002
END_S = 600.0
DARK_AFTER_S = 2.0  # what starting a Python takes on a small board: a guess, untried on one


@dataclass(frozen=True)
class Told:
    """What the agent's process left behind."""

    job: str
    is_done: bool
    answer: dict[str, Any]


@dataclass(frozen=True)
class Kill:
    """One kill: when, and how far what was kept reached then; s of the world's time."""

    at_s: float
    kept_s: float
    job: str = ""


Afterwards = Callable[[WorldClient, Kill], None]
"""What becomes of the world between a kill and the next start."""


def set_back(world: WorldClient, kill: Kill) -> None:
    """Set the world back to where the spool ends."""
    world.restore(kill.kept_s)


def run_on(down_s: float) -> Afterwards:
    """Let the world run on while the agent is down.

    Its lamps stand still first, as a kernel may leave them; then the service manager puts them out
    (`drainscale dark`), and they stay so until the agent is back.
    """

    def go_on(world: WorldClient, kill: Kill) -> None:
        world.lamps(kill.at_s + DARK_AFTER_S, frozenset())
        world.sounder(kill.at_s + DARK_AFTER_S, None)
        world.advance_to(kill.at_s + down_s)

    return go_on


@dataclass(frozen=True)
class Run:
    """One scenario with a seed, and where it keeps its things."""

    scenario: str
    seed: int
    folder: Path
    by_instruments: bool = False

    @contextmanager
    def world(self) -> Iterator[WorldClient]:
        """Start the world; it ends with the block."""
        socket = self.folder / "world"
        named = ["--scenario", self.scenario, "--seed", str(self.seed)]
        command = [sys.executable, "-m", "drainscale_sim.world", "--socket", str(socket), *named]
        # its standard input ends with this process, and with it the world
        process = subprocess.Popen([*command, "--leash"], stdin=subprocess.PIPE)
        assert process.stdin is not None
        try:
            with process.stdin, _connect(socket, process) as client:
                yield client
        finally:
            process.terminate()
            process.wait()

    def start_agent(self) -> subprocess.Popen[bytes]:
        """Start the agent."""
        command = [sys.executable, "-m", "drainscale_sim.closed_loop.agent"]
        command += ["--socket", str(self.folder / "world"), "--folder", str(self.folder)]
        command += ["--scenario", self.scenario, "--seed", str(self.seed)]
        return subprocess.Popen(command + ["--instruments"] * self.by_instruments)

    def told(self) -> Told:
        """Read what the agent left behind."""
        return msgspec.json.decode((self.folder / ANSWER).read_bytes(), type=Told)

    def through(
        self, world: WorldClient, kills_s: Sequence[float] = (), afterwards: Afterwards = set_back
    ) -> list[Kill]:
        """Run the service to its end, killing the agent at these times.

        Returns:
            The kills that there were: none after the job's end.

        Raises:
            RuntimeError: The agent ended otherwise than by finishing its job.
        """
        kills: list[Kill] = []
        for kill_s in sorted(kills_s):
            agent = self.start_agent()
            kill = self._kill_at(world, agent, kill_s)
            if kill is None:
                if not (self.folder / ANSWER).exists():
                    self.tell_for(kills[-1].job if kills else "")
                return kills
            kills.append(kill)
            afterwards(world, kill)
        self._finish(self.start_agent())
        return kills

    def _kill_at(
        self, world: WorldClient, agent: subprocess.Popen[bytes], kill_s: float
    ) -> Kill | None:
        while agent.poll() is None and world.now_s() < kill_s:
            time.sleep(LOOK_S)
        if agent.poll() is not None:
            self._finish(agent)
            return None
        agent.kill()
        agent.wait()
        spool = Place(self.folder).spool
        job = open_job_of(spool)
        if job is None:
            return None
        return Kill(world.now_s(), last_kept_s(history(spool, job)), job)

    def tell_for(self, job: str) -> None:
        """Tell for an agent that was killed between the closing of its job and its last words."""
        kept = history(Place(self.folder).spool, job)
        final = next((one for one in kept if isinstance(one, ResultFormed) and one.is_final), None)
        closed = next((one for one in kept if isinstance(one, JobClosed)), None)
        if final is None or closed is None:
            raise RuntimeError(f"{self.scenario} {self.seed}: killed before it told anything")
        told = Told(job, closed.outcome == "done", dict(final.result))
        (self.folder / ANSWER).write_bytes(msgspec.json.encode(told))

    def _finish(self, agent: subprocess.Popen[bytes]) -> None:
        try:
            status = agent.wait(END_S)
        finally:
            agent.kill()
        if status not in (0, NOT_DONE):  # whether the job was done stands in what it left behind
            raise RuntimeError(f"{self.scenario} {self.seed}: the agent ended with {status}")


def _connect(socket: Path, process: subprocess.Popen[bytes]) -> WorldClient:
    end_s = time.monotonic() + START_S
    while True:
        try:
            return WorldClient(socket, timeout_s=120.0)
        except OSError:
            if process.poll() is not None or time.monotonic() > end_s:
                raise
            time.sleep(0.05)
