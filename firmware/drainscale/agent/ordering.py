"""The next job as the board ordered it: heard at any time, begun only while no job runs.

The order is retained by the broker and comes again after each connect. So it is looked at by its
id: one that was begun here once is never begun again, and one that is wrong is refused once.
"""

import logging
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import msgspec

from drainscale.agent.bench_file import Order
from drainscale.errors import BenchFileError, JobError
from drainscale.messages.telegrams import JobOrder
from drainscale.recording.job_rules import SECTIONS
from drainscale.recording.ruled_toml import RuledToml

log = logging.getLogger(__name__)

# it becomes part of file names and of addresses on the server
_JOB_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
JOB_ID_RULE = "1 to 64 of A-Z, a-z, 0-9, '.', '_' and '-', beginning with a letter or digit"
_PART = {name: SECTIONS[name] for name in ("procedure", "fluid")}
NOT_TAKEN = "this bench takes no orders: see takes_orders in its bench file"


@dataclass(frozen=True, slots=True)
class Ordered:
    """A job to begin: its id and what is to be done."""

    job: str
    order: Order


def checked(order: JobOrder) -> Ordered:
    """Hold an order against the bounds of a job file.

    Raises:
        JobError: Names the job, key, value and what is allowed.
    """
    if not _JOB_ID.fullmatch(order.job):
        raise JobError(f"order: job {order.job[:80]!r}: {JOB_ID_RULE}")
    tables = {"procedure": _table(order.procedure), "fluid": _table(order.fluid)}
    name = f"order for job {order.job}"
    ruled = RuledToml("", name, _PART, JobError, tables=tables).tables()
    return Ordered(order.job, msgspec.convert(ruled, Order))


def _table(record: object) -> dict[str, Any]:
    """Write a record as a TOML file would hold it: no key for what is unknown, lists for tuples."""
    told: dict[str, Any] = msgspec.to_builtins(record)
    return {
        key: list(value) if isinstance(value, tuple) else value
        for key, value in told.items()
        if value is not None
    }


class OrderDesk:
    """Holds the latest order until there is no job running.

    Args:
        takes_orders: Whether this bench begins a job by an order at all.
        begun: The jobs that were begun here before.
        refuse: Told once why an order is refused, as soon as no job runs that it is none of.
    """

    def __init__(
        self, begun: frozenset[str], refuse: Callable[[str], None], *, takes_orders: bool
    ) -> None:
        self._takes_orders = takes_orders
        self._begun = set(begun)
        self._refuse = refuse
        self._heard: JobOrder | None = None
        self._next: Ordered | None = None
        self.fault: str | None = None
        self._is_told = True

    def hear(self, order: JobOrder | None) -> None:
        """Take the latest word of the board; ``None``: the order is taken back."""
        if order == self._heard:  # the broker hands it out after each connect
            return
        self._heard, self._next, self.fault = order, None, None
        if order is None:
            log.info("order=taken-back")
            return
        if order.job in self._begun:
            log.info("order=%s is begun already", order.job)
            return
        try:
            if not self._takes_orders:
                raise BenchFileError(f"order for job {order.job}: {NOT_TAKEN}")
            self._next = checked(order)
        except (BenchFileError, JobError) as error:
            self.fault, self._is_told = str(error), False
            log.error("fault=order %s", error)
        else:
            log.info("order=%s heard", order.job)

    def begin(self) -> Ordered | None:
        """Hand out the job that is to begin now, once; ``None`` if none is due."""
        if self.fault is not None and not self._is_told:
            self._is_told = True
            self._refuse(self.fault)
        due, self._next = self._next, None
        if due is not None:
            self.note_begun(due.job)
        return due

    def note_begun(self, job: str) -> None:
        """Learn that a job was begun; its order is done with."""
        self._begun.add(job)
        if self._next is not None and self._next.job == job:
            self._next = None
