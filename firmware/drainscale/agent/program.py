"""One run of the agent: opens spool and job, loops, closes. Devices are given to it.

``run`` does one job and ends; ``serve`` does what the board orders, job after job. A job that a
killed agent left open is taken up again: what the spool holds of it is replayed, and its time
goes on.
"""

import logging
import secrets
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from drainscale import __version__
from drainscale.agent.bench_file import Bench, Order
from drainscale.agent.devices import Devices
from drainscale.agent.job_run import JobRun
from drainscale.agent.keeping import SpoolKeeper, broker_of
from drainscale.agent.loop import JobKeeper, Loop
from drainscale.agent.onlooker import Onlooker, WatchedKeeper
from drainscale.errors import BenchFileError, InputError, ProcedureError, SpoolError
from drainscale.messages.records import JobOpened
from drainscale.messages.telegrams import Command
from drainscale.messages.topics import BenchId
from drainscale.ports import Clock, Stop
from drainscale.procedure.gate_book import GateBook
from drainscale.procedure.gates import YES
from drainscale.quantities.job import ProcedureLimits
from drainscale.uplink.batches import RunningJob
from drainscale.uplink.spool import Spool

log = logging.getLogger(__name__)

SPOOL_FILE = "spool.sqlite"
Pause = Callable[[Stop, float], bool]  # waits until the flag is set, at most so long
LISTEN_S = 0.25  # how often an order is looked for while no job runs


@dataclass(slots=True)
class Finished:
    """How a run ended."""

    job: str
    is_done: bool
    answer: dict[str, Any]


class Program:
    """The agent's program for one job.

    Args:
        bench: What the bench is.
        order: What is to be done; not needed where a job is taken up again.
        devices: The bench's devices.
        kernel_boot: Names this start of the machine: its monotonic clock goes on as long as it
            stays the same.
        gates: Gates that were answered on paper or board before the start.
        onlooker: Who watches the job run, if somebody does.
    """

    def __init__(
        self,
        bench: Bench,
        order: Order | None,
        devices: Devices,
        kernel_boot: str,
        gates: Iterable[str] = (),
        onlooker: Onlooker | None = None,
    ) -> None:
        self._bench = bench
        self._order = order
        self._devices = devices
        self._kernel_boot = kernel_boot
        self._gates = tuple(gates)
        self._onlooker = onlooker
        self._run: JobRun | None = None
        self._loop: Loop | None = None
        self._keeper: SpoolKeeper | None = None

    def run(self, stop: Stop) -> Finished:
        """Run until the job is done or ``stop`` is set.

        Raises:
            SpoolError: The spool cannot be used.
            BenchFileError: No job is open and no order is given.
            InputError: A gate that the unit has not, or an answer that the gate has not; no job
                is opened then.
        """
        with self._kept() as (spool, keeper):
            found = running = spool.open_job()
            if running is not None:
                check_gates(running.opened.spec.procedure, self._gates)
            else:
                if self._order is None:
                    raise BenchFileError("no job is open, and no order says what is to be done")
                check_gates(self._order.procedure, self._gates)
                running = self._new_job(keeper, f"j-{secrets.token_hex(6)}", self._order)
            return self._run_job(spool, keeper, running, stop, is_resumed=found is not None)

    def serve(
        self, stop: Stop, tell: Callable[[Finished], None], pause: Pause | None = None
    ) -> None:
        """Do the jobs that the board orders, one after the other, until ``stop`` is set.

        A job that is open is taken up first.

        Args:
            stop: Ends it, in a job or between two.
            tell: Told how each job ended.
            pause: Waits between two looks for an order; the bench's clock unless one is given.

        Raises:
            SpoolError: The spool cannot be used.
        """
        with self._kept() as (spool, keeper):
            while not stop.is_set():
                found = spool.open_job()
                pause = pause or self._devices.clock.wait
                running = found or self._ordered_job(keeper, stop, pause)
                if running is None:
                    return
                is_resumed = found is not None
                tell(self._run_job(spool, keeper, running, stop, is_resumed=is_resumed))
                self._run = self._loop = None
                self._gates = ()  # those of the command line were the first job's
                keeper.settle()  # what is closed shall not be found open

    @contextmanager
    def _kept(self) -> Iterator[tuple[Spool, SpoolKeeper]]:
        """Open spool and keeper; all is closed afterwards, the devices too."""
        bench, clock = self._bench, self._devices.clock
        folder = Path(bench.spool.folder)
        broker = broker_of(bench.uplink)
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise SpoolError(f"{folder}: cannot be made: {error.strerror}") from error
        names = BenchId(bench.bench.site, bench.bench.bench)
        spool = Spool(folder / SPOOL_FILE, names)
        keeper = SpoolKeeper(spool, clock.now_s, broker, self._act, takes_orders=bench.takes_orders)
        self._keeper = keeper
        try:
            yield spool, keeper
        finally:
            keeper.close()
            self._devices.close()

    @property
    def unacknowledged_n(self) -> int:
        """How many messages the server has not yet, as far as it said."""
        return 0 if self._keeper is None else self._keeper.unacknowledged_n

    def _ordered_job(self, keeper: SpoolKeeper, stop: Stop, pause: Pause) -> RunningJob | None:
        """Wait for an order and open its job; ``None``: stopped before one came."""
        log.info("waiting for an order")
        while not stop.is_set():
            due = keeper.ordered()
            if due is not None:
                return self._new_job(keeper, due.job, due.order)
            pause(stop, LISTEN_S)
        return None

    def _run_job(
        self,
        spool: Spool,
        keeper: SpoolKeeper,
        running: RunningJob,
        stop: Stop,
        *,
        is_resumed: bool,
    ) -> Finished:
        keeper.note_begun(running.job)
        kept: JobKeeper = keeper
        if self._onlooker is not None:
            kept = WatchedKeeper(keeper, self._onlooker)
        run = JobRun(running.opened.spec, kept)
        started_s = self._started_s(running, self._devices.clock, spool)
        loop = Loop(self._devices, run, kept, started_s, is_muted=self._bench.is_muted)
        self._run, self._loop = run, loop
        if is_resumed:
            loop.resume(spool.history(running.job))
            log.info("job=%s resumed t=%s", running.job, run.service.t)
        run.tick_gates(loop.intake.now_t(), self._gates)
        loop.run(stop)
        return Finished(running.job, run.is_closed, run.answer())

    def _new_job(self, keeper: SpoolKeeper, job: str, order: Order) -> RunningJob:
        clock, spec = self._devices.clock, self._bench.with_order(order)
        opened = JobOpened(
            base_time_s=clock.wall_s(),
            is_clock_set=clock.is_wall_set(),
            kernel_boot=self._kernel_boot,
            started_monotonic_s=clock.now_s(),
            kit_version=__version__,
            spec=spec,
        )
        keeper.begin(job, opened)
        log.info("job=%s opened", job)
        return RunningJob(job, opened)

    def _started_s(self, running: RunningJob, clock: Clock, spool: Spool) -> float:
        """What the clock showed, or would have shown, at the job's ``t = 0``.

        After a restart of the machine its monotonic clock begins anew; the wall clock bridges
        that if it was set both times, else the job goes on where the spool ends. It never goes on
        before that: times would stand still until they had caught up.
        """
        opened, now_s = running.opened, clock.now_s()
        if self._kernel_boot and opened.kernel_boot == self._kernel_boot:
            since_s = now_s - opened.started_monotonic_s
        elif opened.is_clock_set and clock.is_wall_set():
            since_s = clock.wall_s() - opened.base_time_s
        else:
            since_s = 0.0
        last_t = max((sample.t for sample in spool.samples(running.job)), default=0.0)
        return now_s - max(since_s, last_t)

    def _act(self, command: Command) -> None:
        """Carry out a command from the board."""
        run, loop = self._run, self._loop
        if run is None or loop is None:
            raise ProcedureError("no job is running")
        run.command(loop.intake.now_t(), command.command, command.gate)


def check_gates(limits: ProcedureLimits, gates: Iterable[str]) -> None:
    """See that gates answered beforehand are gates of this unit.

    Raises:
        InputError: One is not, or has no such answer.
    """
    book = GateBook(limits)
    for given in gates:
        gate_id, _, answer = given.partition("=")
        try:
            book.tick(gate_id, answer or YES.key)
        except ProcedureError as error:
            raise InputError(f"--gate {given}: {error}") from error
