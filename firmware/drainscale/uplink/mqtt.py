"""One thread between spool and broker; nothing that the agent calls here ever waits for it.

uplink = MqttUplink(spool, settings, now_s=clock.now_s, kit_version="0.1.0")
uplink.start()
uplink.report(step="drain", job="j-104")
uplink.show(live)
for order in uplink.orders(): ...           # commands, jobs
uplink.stop(timeout_s=3.0)
"""

import logging
import random
import sqlite3
import threading
import time
from collections import Counter, deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import msgspec

from drainscale.errors import MessageError
from drainscale.messages.codec import decode, encode
from drainscale.messages.telegrams import (
    Ack,
    Command,
    CommandAnswer,
    JobOrder,
    Kept,
    Live,
    Status,
)
from drainscale.messages.topics import LEAVES
from drainscale.mqtt_link import LinkDownError
from drainscale.uplink.broker import BrokerSettings
from drainscale.uplink.link import Link
from drainscale.uplink.session import Session
from drainscale.uplink.spool import FORGOTTEN_AT_ONCE_N, Spool

TURN_S = 0.1  # so long at most a new message waits for its turn
STATUS_EVERY_S = 60.0  # and at once when what the agent reports has changed
ORDERS_N = 100  # more than this unread means that nobody reads
GOODBYE_S = 2.0
DISK_AGAIN_S = 10.0  # after it refused
_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class JobTakenBack:
    """The retained job was withdrawn."""


@dataclass(frozen=True, slots=True)
class Retry:
    """Pauses between attempts: doubling from the first to the longest, each shortened by chance."""

    first_s: float = 1.0
    longest_s: float = 60.0

    def pause_s(self, failures_n: int) -> float:
        """Give the pause after so many failures in a row."""
        full = min(self.first_s * 2.0 ** min(failures_n - 1, 30), self.longest_s)
        return full * random.uniform(0.5, 1.0)


Order = Command | JobOrder | JobTakenBack
_ANY_STATUS = Status(site="", bench="", boot="", state="offline")


class MqttUplink:
    """Sends what the spool holds until the server has acknowledged it; takes orders.

    Args:
        spool: What to send; told when the server has it.
        settings: Where the broker is.
        now_s: The kit's own clock, for status and commands.
        kit_version: For the status.
        retry: Pauses between attempts to connect.
        session: What is sent when; a test may want it less patient.
    """

    def __init__(
        self,
        spool: Spool,
        settings: BrokerSettings,
        now_s: Callable[[], float],
        kit_version: str = "",
        retry: Retry | None = None,
        session: Session | None = None,
    ) -> None:
        self._spool = spool
        self._settings = settings
        self._now_s = now_s
        self._version = kit_version
        self._retry = retry or Retry()
        self._session = session or Session()
        self._lock = threading.Lock()
        self._reported: dict[str, Any] = {}
        self._is_changed = True
        self._live: Live | None = None
        self._answers: deque[CommandAnswer] = deque(maxlen=ORDERS_N)
        self._orders: deque[Order] = deque()
        self._status_s = 0.0
        self._is_connected = False
        self._is_greeted = False
        self._through: dict[str, int] = {}  # acknowledged, and not yet noted in the spool
        self._forget_after_s = 0.0
        self._may_forget = True  # what a killed predecessor left
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="uplink", daemon=True)
        self.counters: Counter[str] = Counter()

    @property
    def is_alive(self) -> bool:
        """Whether the thread runs; for the watchdog."""
        return self._thread.is_alive()

    @property
    def is_connected(self) -> bool:
        """Whether the broker is there and we are subscribed."""
        return self._is_connected

    def start(self) -> None:
        """Start the thread; a broker that is not there is no error."""
        self._thread.start()

    def report(self, **fields: Any) -> None:
        """Change what the status says: ``job``, ``step``, ``faults``, ``is_clock_set``.

        Raises:
            TypeError: A field that the status has not.
        """
        msgspec.structs.replace(_ANY_STATUS, **fields)
        with self._lock:
            reported = self._reported | fields
            self._is_changed = self._is_changed or reported != self._reported
            self._reported = reported

    def show(self, live: Live) -> None:
        """Put new figures in place of the last; they go out if somebody is there."""
        with self._lock:
            self._live = live

    def answer(self, answer: CommandAnswer) -> None:
        """Tell what became of a command."""
        with self._lock:
            self._answers.append(answer)

    def orders(self) -> list[Order]:
        """Take what came in since the last call, in order.

        The retained job comes again after each connect.
        """
        with self._lock:
            orders = list(self._orders)
            self._orders.clear()
        return orders

    def stop(self, timeout_s: float = 5.0) -> None:
        """Say that the kit stops, and end the thread; harmless if it never ran."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(timeout_s)

    def _run(self) -> None:
        failures_n = 0
        while not self._stopping.is_set():
            self._is_greeted = False
            try:
                self._serve()
            except LinkDownError as error:
                self._failed("link-failures", "uplink: %s", error)
            except sqlite3.Error as error:
                self._failed("spool-failures", "uplink: the spool: %s", error)
            except Exception:  # noqa: BLE001 - the thread must outlive any bug; it is logged
                _log.exception("uplink")
                self.counters["uplink-failures"] += 1
            failures_n = 1 if self._is_greeted else failures_n + 1
            self._disconnected()
            self._stopping.wait(self._retry.pause_s(failures_n))

    def _disconnected(self) -> None:
        self._is_connected = False
        with self._lock:  # by the time somebody hears them, they would be old
            self._live = None
            self._answers.clear()

    def _failed(self, counter: str, message: str, error: Exception) -> None:
        _log.warning(message, error)
        self.counters[counter] += 1

    def _serve(self) -> None:
        """Hold one connection until it breaks or we are to stop."""
        bench_id = self._spool.bench_id
        link = Link(
            self._settings,
            client_id=f"drainscale-{bench_id.site}.{bench_id.bench}",
            topics=[bench_id.topic(leaf) for leaf, how in LEAVES.items() if not how.is_upward],
            will=(bench_id.topic("status"), encode(self._status("offline", {"reason": "lost"}))),
            counters=self.counters,
        )
        try:
            while not self._stopping.is_set():
                for topic, payload in link.turn(TURN_S):
                    self._receive(topic, payload)
                if link.is_ready:
                    self._greet()
                    self._send_telegrams(link)
                    self._send_numbered(link)
                    self._forget()
            self._say_goodbye(link)
        except BaseException:
            link.drop()
            raise

    def _greet(self) -> None:
        if not self._is_greeted:
            self._is_greeted = self._is_connected = self._is_changed = True
            self.counters["connects"] += 1
            self._session.update(self._spool.standings())
            self._session.connected(time.monotonic())

    def _send_telegrams(self, link: Link) -> None:
        with self._lock:
            live, self._live = self._live, None
            answers = list(self._answers)
            self._answers.clear()
            is_due = self._is_changed or time.monotonic() - self._status_s >= STATUS_EVERY_S
            self._is_changed = False
            status = self._status("online", self._reported) if is_due else None
        if status is not None:
            self._status_s = time.monotonic()
            self._publish(link, "status", encode(status))
        for answer in answers:
            self._publish(link, "answer", encode(answer))
        if live is not None:
            self._publish(link, "live", encode(live))

    def _send_numbered(self, link: Link) -> None:
        now_s = time.monotonic()
        self._session.update(self._spool.standings())
        for boot in self._session.rewind_stalled(now_s):
            _log.warning("uplink: no acknowledgement, boot %s is sent again", boot)
            self.counters["sent-again"] += 1
        while (room_n := link.room_n) and (span := self._session.due(room_n)) is not None:
            for one in self._spool.messages(span.boot, span.first, span.last):
                self._publish(link, one.leaf, one.payload)
            self._session.sent(span, now_s)

    def _publish(self, link: Link, leaf: str, payload: bytes) -> None:
        how = LEAVES[leaf]
        topic = self._spool.bench_id.topic(leaf)
        link.publish(topic, payload, qos=how.qos, is_retained=how.is_retained)

    def _receive(self, topic: str, payload: bytes) -> None:
        if not payload and topic == self._spool.bench_id.topic("job"):
            self._take(JobTakenBack())
            return
        try:
            message = decode(topic, payload)
        except MessageError as error:
            self._failed("bad-messages", "uplink: %s", error)
            return
        if isinstance(message, Ack):
            self._acknowledged(message)
        elif isinstance(message, Command | JobOrder):
            self._take(message)

    def _take(self, order: Order) -> None:
        with self._lock:
            if len(self._orders) < ORDERS_N:
                self._orders.append(order)
            else:
                self.counters["orders-dropped"] += 1

    def _acknowledged(self, ack: Ack) -> None:
        try:
            is_news = self._session.acknowledged(ack.boot, ack.through, time.monotonic())
        except ValueError as error:
            self._failed("bad-messages", "uplink: %s", error)
            return
        if is_news:
            self._through[ack.boot] = ack.through
            self._may_forget = True

    def _forget(self) -> None:
        """Note what is acknowledged, and drop some of it: the writer waits meanwhile.

        A disk that refuses is no reason to leave the link; it is tried again later.
        """
        if not self._may_forget or time.monotonic() < self._forget_after_s:
            return
        try:
            for boot, through in self._through.items():
                self._spool.acknowledge(boot, through)
            self._through.clear()
            self._may_forget = self._spool.forget() >= FORGOTTEN_AT_ONCE_N
        except sqlite3.Error as error:
            self._failed("spool-failures", "uplink: the spool: %s", error)
            self._forget_after_s = time.monotonic() + DISK_AGAIN_S

    def _say_goodbye(self, link: Link) -> None:
        if link.is_ready:
            status = self._status("offline", self._reported | {"reason": "stopped"})
            self._publish(link, "status", encode(status))
            until_s = time.monotonic() + GOODBYE_S
            while not link.is_all_confirmed and time.monotonic() < until_s:
                link.turn(TURN_S)
        link.close()

    def _status(self, state: Any, fields: dict[str, Any]) -> Status:
        kept = tuple(
            Kept(boot=one.boot, first=one.through + 1, last=one.last)
            for one in self._spool.standings()
            if one.last > one.through or one.boot == self._spool.boot
        )
        status = Status(
            site=self._spool.bench_id.site,
            bench=self._spool.bench_id.bench,
            boot=self._spool.boot,
            state=state,
            kit_version=self._version,
            now_s=self._now_s(),
            kept=kept,
            counters=dict(self.counters),
        )
        return msgspec.structs.replace(status, **fields)
