"""Who is told of what came, after it is on the disk.

A listener runs in the intake's thread and must return soon. One that raises is logged and
counted; the others, and the intake, go on.
"""

import logging
from collections import Counter
from collections.abc import Callable
from typing import TypeVarTuple

import msgspec

from drainscale.messages.records import Body
from drainscale.messages.telegrams import CommandAnswer, Live, Status
from drainscale.messages.topics import BenchId

Told = TypeVarTuple("Told")
_log = logging.getLogger(__name__)


class Stored(msgspec.Struct, frozen=True, kw_only=True):
    """A numbered message that is now in the store, and was not before.

    Attributes:
        job: What the server calls its job; None outside of one.
        kit_job: What its bench calls it.
    """

    site: str
    bench: str
    boot: str
    seq: int
    job: str | None
    kit_job: str | None
    body: Body
    received_s: float


class Listeners:
    """The listeners, by what they listen to.

    Args:
        counters: Where a listener that raises is counted.
    """

    def __init__(self, counters: Counter[str]) -> None:
        self._counters = counters
        self.stored: list[Callable[[list[Stored]], None]] = []
        self.live: list[Callable[[Live], None]] = []
        self.status: list[Callable[[Status, bool], None]] = []
        self.answer: list[Callable[[CommandAnswer, BenchId], None]] = []
        self.connected: list[Callable[[], None]] = []

    def tell_stored(self, stored: list[Stored]) -> None:
        """Tell what is new in the store, in the order in which it came."""
        for listener in self.stored:
            self._call(listener, stored)

    def tell_connected(self) -> None:
        """Tell that the broker is there and all that benches say from now on is heard."""
        for listener in self.connected:
            self._call(listener)

    def tell(
        self, message: Live | Status | CommandAnswer, bench_id: BenchId, *, is_retained: bool
    ) -> None:
        """Tell of a message without a number."""
        match message:
            case Live():
                for on_live in self.live:
                    self._call(on_live, message)
            case Status():
                for on_status in self.status:
                    self._call(on_status, message, is_retained)
            case CommandAnswer():
                for on_answer in self.answer:
                    self._call(on_answer, message, bench_id)

    def _call(self, listener: Callable[[*Told], None], *told: *Told) -> None:
        try:
            listener(*told)
        except Exception:  # noqa: BLE001 - whoever listens must not end the intake
            _log.exception("a listener of the intake")
            self._counters["listener-failures"] += 1
