"""One whole service in closed loop, in this process and as fast as it can."""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from drainscale.agent.bench_file import Bench, UplinkTarget
from drainscale.agent.command import open_devices
from drainscale.agent.devices import Devices
from drainscale.agent.onlooker import Onlooker
from drainscale.agent.program import SPOOL_FILE, Finished, Program
from drainscale.ports import Stop
from drainscale.quantities.job import Job
from drainscale_sim.bench_world import BenchWorld
from drainscale_sim.board.clock import BoardClock
from drainscale_sim.board.simulated_board import BoardSettings, SimulatedBoard
from drainscale_sim.closed_loop.instruments import instruments
from drainscale_sim.closed_loop.judging import Judged, judge, world_truth
from drainscale_sim.closed_loop.orders import answered_on_the_board, bench_of, order_of
from drainscale_sim.world.world import World

MOST_S = 5.0 * 3600.0  # of the world's time
LOOK_S = 1.0
LOOK_FOR_ORDER_S = 0.05
ORDERED_WITHIN_S = 60.0  # of the machine's time
STORED_WITHIN_S = 120.0
KERNEL_BOOT = "simulated"  # the world's clock outlives the agent, as a machine's does


@dataclass(frozen=True)
class Place:
    """Where one run keeps its things."""

    folder: Path

    @property
    def spool_folder(self) -> Path:
        """Folder of the spool."""
        return self.folder / "spool"

    @property
    def spool(self) -> Path:
        """The spool's file."""
        return self.spool_folder / SPOOL_FILE

    def new_board(self) -> Path:
        """Make an empty folder for a board's device nodes."""
        n = sum(1 for _ in self.folder.glob("board-*"))
        board = self.folder / f"board-{n}"
        board.mkdir(parents=True)
        return board


def serve(
    world: BenchWorld,
    is_over: Callable[[], bool],
    job: Job,
    seed: int,
    place: Place,
    onlooker: Onlooker | None = None,
    uplink: UplinkTarget | None = None,
) -> Finished:
    """Run the agent on a simulated board in a world until the job is done, or nobody is there.

    Where the spool holds an open job already, that is taken up again. Where the uplink takes
    orders the job is the next one ordered: the world stands still until it has come, and at the
    end until the server has all.

    Args:
        world: The world, wherever it runs.
        is_over: Whether the technician has gone home.
        job: What the kit is told.
        seed: For the bounce of the switch.
        place: Where spool and board's nodes go.
        onlooker: Who watches the job run, if somebody does.
        uplink: Where to send, if anywhere.
    """
    board = SimulatedBoard(world, place.new_board(), _settings(job, seed))
    with board.installed():
        bench = bench_of(job, place.spool_folder, uplink)
        devices = open_devices(bench, board.clock, board.paths)
        return _run(world, is_over, board.clock, devices, job, bench, onlooker)


def serve_by_instruments(
    world: BenchWorld, is_over: Callable[[], bool], job: Job, place: Place
) -> Finished:
    """Run the agent on faultless instruments instead of a board; see ``instruments``."""
    clock = BoardClock(world)
    bench = bench_of(job, place.spool_folder)
    return _run(world, is_over, clock, instruments(world, clock, job), job, bench)


@dataclass(frozen=True)
class Served:
    """One service, done and judged."""

    finished: Finished
    judged: Judged
    truth: dict[str, Any]


def serve_scenario(scenario: str, seed: int, folder: Path) -> Served:
    """Run one service with its world in this process and hold it against the truth.

    Raises:
        ValueError: The level plug was never opened and shut.
    """
    world = World.of(scenario, seed)
    finished = serve(world, lambda: world.is_over, world.setup.job, seed, Place(folder))
    truth = world_truth(world, f"{scenario}-{seed}")
    presses = len(world.bay.ledger.presses_s)
    judged = judge(finished.answer, truth, is_done=finished.is_done, presses=presses)
    return Served(finished, judged, truth)


def _run(
    world: BenchWorld,
    is_over: Callable[[], bool],
    clock: BoardClock,
    devices: Devices,
    job: Job,
    bench: Bench,
    onlooker: Onlooker | None = None,
) -> Finished:
    stop = threading.Event()

    def watch() -> None:
        if is_over() or world.now_s() > MOST_S:
            stop.set()

    clock.call_every(LOOK_S, watch)
    gates = answered_on_the_board(job.procedure)
    if bench.takes_orders:
        return _by_order(Program(bench, None, devices, KERNEL_BOOT, gates, onlooker), stop)
    program = Program(bench, order_of(job), devices, KERNEL_BOOT, gates, onlooker)
    return program.run(stop)


def _by_order(program: Program, stop: threading.Event) -> Finished:
    """Do the one job that is ordered, and wait till the server has all of it.

    Raises:
        RuntimeError: No order came, or the server does not take what it was sent.
    """
    told: list[Finished] = []
    end_s = time.monotonic() + ORDERED_WITHIN_S

    def pause(stop_: Stop, timeout_s: float) -> bool:
        nonlocal end_s
        if told and not program.unacknowledged_n:
            stop.set()
        elif time.monotonic() > end_s:
            raise RuntimeError("the server has not all of it" if told else "no order came")
        else:
            time.sleep(min(timeout_s, LOOK_FOR_ORDER_S))  # the world's time stands still
        return stop_.is_set()

    def tell(finished: Finished) -> None:
        nonlocal end_s
        told.append(finished)
        end_s = time.monotonic() + STORED_WITHIN_S

    program.serve(stop, tell, pause)
    if not told:
        raise RuntimeError("no order came")
    return told[0]


def _settings(job: Job, seed: int) -> BoardSettings:
    supply = job.supply_scale or job.scale
    return BoardSettings(drain_rate_Hz=job.scale.rate_Hz, supply_rate_Hz=supply.rate_Hz, seed=seed)
