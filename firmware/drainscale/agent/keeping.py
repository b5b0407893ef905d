"""Where a job is kept and sent from: spool, its writer, the uplink, and orders from the board."""

import logging
import sqlite3
from collections.abc import Callable, Iterable
from pathlib import Path

from drainscale import __version__
from drainscale.agent.bench_file import UplinkTarget
from drainscale.agent.ordering import OrderDesk, Ordered
from drainscale.core import Live
from drainscale.errors import BenchFileError
from drainscale.messages.records import Body, FaultTold, JobOpened
from drainscale.messages.telegrams import Command, JobOrder, figures_of
from drainscale.messages.telegrams import Live as LiveTelegram
from drainscale.quantities.samples import Sample
from drainscale.uplink.broker import BrokerSettings
from drainscale.uplink.commands import CommandDesk, Now
from drainscale.uplink.mqtt import MqttUplink
from drainscale.uplink.spool import Spool
from drainscale.uplink.writer import SpoolWriter

FLUSH_S = 10.0
log = logging.getLogger(__name__)


class SpoolKeeper:
    """Keeps one bench's jobs on disk and sends them where there is somebody to send to.

    Args:
        spool: The spool, open.
        now_s: The bench's clock.
        target: The broker; ``None``: keep only.
        act: Carries out a command from the board; raises a DrainscaleError to refuse it.
        takes_orders: Whether the board may say what the next job is.
    """

    def __init__(
        self,
        spool: Spool,
        now_s: Callable[[], float],
        target: BrokerSettings | None,
        act: Callable[[Command], None],
        *,
        takes_orders: bool = False,
    ) -> None:
        self._spool = spool
        self._now_s = now_s
        self._writer = SpoolWriter(spool, spool.open_job())
        self._uplink = None if target is None else MqttUplink(spool, target, now_s, __version__)
        self._act = act
        self._boot, self._desk = spool.boot, CommandDesk(spool.boot, act)
        self._takes_orders = takes_orders
        self._orders = OrderDesk(spool.begun(), self._refuse, takes_orders=takes_orders)
        if target is None:
            spool.trim()  # nobody will ever fetch it: the oldest jobs make room
        self._step = ""
        self._turn: list[Sample | Body] = []
        self._writer.start()
        if self._uplink is not None:
            self._uplink.start()

    def begin(self, job: str, opened: JobOpened) -> None:
        """Open a job; what follows belongs to it."""
        self._writer.begin_job(job, opened)

    def note_begun(self, job: str) -> None:
        """Note that a job is open on the disk, so that its order is not done a second time.

        After the commit that opens it: a kill in between finds it open and comes here again. A
        disk that refuses costs this memory only, and the server takes a finished order back.
        """
        self._orders.note_begun(job)
        if not self._takes_orders:
            return
        self._writer.flush(FLUSH_S)
        try:
            self._spool.note_begun(job)
        except sqlite3.Error as error:
            log.warning("job=%s cannot be noted as begun: %s", job, error)

    def settle(self, timeout_s: float = FLUSH_S) -> bool:
        """Wait until all that was told is on the disk, at most so long; True if it is."""
        return self._writer.flush(timeout_s)

    def ordered(self) -> Ordered | None:
        """While no job runs: listen, and hand out the job that the board wants next."""
        if self._uplink is not None:
            self._step = ""
            self._uplink.report(step=None, job=None, faults=self._own_faults())
        self.turn(None)
        return self._orders.begin()

    def _refuse(self, why: str) -> None:
        self._turn.append(FaultTold(code="order", text=why))

    def samples(self, samples: Iterable[Sample]) -> None:
        """Keep samples, in time order, with the rest of this turn."""
        self._turn += samples

    def tell(self, body: Body) -> None:
        """Keep a numbered record, with the rest of this turn."""
        self._turn.append(body)

    def turn(self, live: Live | None) -> None:
        """Hand the turn over whole, show the figures if they are new, look what the board wants.

        A kill keeps a turn whole or not at all: never the press without the step that it began.
        """
        turn, self._turn = self._turn, []
        self._writer.give(turn)
        uplink = self._uplink
        if uplink is None:
            return
        running = self._writer.running
        job = running.job if running else None
        if live is not None:
            self._step = str(live.step)
            uplink.report(step=self._step, job=job, faults=self._faults(live))
            uplink.show(self._telegram(live, job))
        for order in uplink.orders():
            if isinstance(order, Command):
                now = Now(self._now_s(), job, self._step)
                uplink.answer(self._commands.handle(order, now))
            else:  # for the next job; the one that runs is not touched
                self._orders.hear(order if isinstance(order, JobOrder) else None)

    @property
    def _commands(self) -> CommandDesk:
        """The desk of the present boot: a spool that broke is begun anew, under another."""
        if self._boot != self._spool.boot:
            self._boot = self._spool.boot
            self._desk = CommandDesk(self._boot, self._act)
        return self._desk

    def _faults(self, live: Live) -> tuple[str, ...]:
        return live.faults + self._own_faults()

    def _own_faults(self) -> tuple[str, ...]:
        more = (self._writer.fault, self._orders.fault)
        return self._spool.faults + tuple(fault for fault in more if fault)

    def _telegram(self, live: Live, job: str | None) -> LiveTelegram:
        bench = self._spool.bench_id
        return LiveTelegram(
            site=bench.site,
            bench=bench.bench,
            boot=self._spool.boot,
            now_s=self._now_s(),
            job=job,
            cue=live.cue.name,
            cue_reason=live.cue.reason,
            figures=figures_of(live),
        )

    @property
    def unacknowledged_n(self) -> int:
        """How many messages the server has not said to have stored."""
        return sum(one.last - one.through for one in self._spool.standings())

    def status(self) -> str:
        """Key=value fields for the status line."""
        waiting = self.unacknowledged_n
        link = "none"
        if self._uplink is not None:
            link = "up" if self._uplink.is_connected else "down"
        return f"unacknowledged={waiting} link={link} spool={self._writer.fault or 'ok'}"

    def close(self) -> None:
        """Write what is left, say goodbye, and let go of the file."""
        turn, self._turn = self._turn, []
        self._writer.give(turn)
        self._writer.flush(FLUSH_S)
        self._writer.close(FLUSH_S)
        if self._uplink is not None:
            self._uplink.stop()
        self._spool.close()


def broker_of(target: UplinkTarget | None) -> BrokerSettings | None:
    """Make the broker's settings of what the bench file says.

    Raises:
        BenchFileError: The password's file cannot be read.
        InputError: Off this machine without name, password or TLS.
    """
    if target is None:
        return None
    password: str | None = None
    if target.password_file is not None:
        try:
            password = Path(target.password_file).read_text(encoding="utf-8").strip()
        except OSError as error:
            raise BenchFileError(
                f"{target.password_file}: cannot read the password: {error.strerror}"
            ) from error
    return BrokerSettings(
        target.host,
        target.port,
        target.username,
        password,
        is_tls=target.ca_file is not None,
        ca_file=None if target.ca_file is None else Path(target.ca_file),
    )
