"""One thread between the measuring and the disk, so that no sample waits for a card.

    with SpoolWriter(spool) as writer:
        writer.begin_job("j-104", opened)
        writer.add(sample)              # returns at once
        writer.put(EventTold(...))
        writer.flush(timeout_s=5.0)     # now all of it is on the disk

A disk that refuses is tried again each second; meanwhile the newest samples are held in memory.
"""

import logging
import sqlite3
import threading
from collections import Counter, deque
from collections.abc import Callable, Iterable
from itertools import islice
from types import TracebackType
from typing import Self

from drainscale.errors import SpoolError
from drainscale.messages.codec import encode
from drainscale.messages.packs import sample_record
from drainscale.messages.records import Body, Envelope, JobClosed, JobOpened, Samples
from drainscale.quantities.samples import Sample
from drainscale.uplink.batches import PACK_S, Batches, Entry, Gap, RunningJob
from drainscale.uplink.spool import Spool
from drainscale.uplink.spool_file import is_damage

HELD_N = 1500  # entries in memory while the disk refuses: 25 min of packs, some 10 MB
COMMITTED_N = 200  # entries in one transaction, so that a long stand-still is not made up in one
_log = logging.getLogger(__name__)


class SpoolWriter:
    """Commits what it is given, in order: once a second, or every 100 samples.

    Args:
        spool: Where to.
        running: The job to go on with, after a restart.
        on_stored: Called in the writer's thread after each commit; must return soon.
        pause_s: At the latest this long after it was given, a message is committed.
    """

    def __init__(
        self,
        spool: Spool,
        running: RunningJob | None = None,
        on_stored: Callable[[], None] = lambda: None,
        pause_s: float = PACK_S,
    ) -> None:
        self._spool = spool
        self._on_stored = on_stored
        self._pause_s = pause_s
        self._wake = threading.Condition()
        self._batches = Batches(running)
        self._waiting: deque[Entry] = deque()
        self._lost: list[Gap] = []
        self._given_n = 0
        self._stored_n = 0
        self._is_flushing = False
        self._is_closing = False
        self._fault: str | None = None
        self.counters: Counter[str] = Counter()
        self._thread = threading.Thread(target=self._run, name="spool-writer", daemon=True)

    @property
    def fault(self) -> str | None:
        """Why nothing can be stored at the moment, None if all is well."""
        return self._fault

    @property
    def running(self) -> RunningJob | None:
        """The job that is open."""
        with self._wake:
            return self._batches.running

    @property
    def is_alive(self) -> bool:
        """Whether the thread runs; for the watchdog."""
        return self._thread.is_alive()

    def start(self) -> None:
        """Start the thread."""
        self._thread.start()

    def begin_job(self, job: str, opened: JobOpened) -> None:
        """Open a job; what is given from now on belongs to it.

        Raises:
            ValueError: Another one is running, or a number is not finite.
        """
        _check(opened)
        with self._wake:
            self._batches.begin_job(RunningJob(job, opened))
            self._given()

    def add(self, sample: Sample) -> None:
        """Take a sample of the running job.

        Raises:
            ValueError: No job is running, or a time or value that no recording can hold.
        """
        with self._wake:
            sample_record(sample)  # finds a bug where it is, not later in the writer's thread
            self._batches.add(sample)
            self._given()

    def put(self, body: Body) -> None:
        """Take any other message.

        Raises:
            ValueError: As ``Batches.put``; or a number that is not finite.
        """
        _check(body)
        with self._wake:
            self._batches.put(body)
            self._given()

    def give(self, items: Iterable[Sample | Body]) -> None:
        """Take samples and messages in their order: all of them go into one commit.

        So what belongs together, a press of the foot switch and the step that it began, is never
        kept by halves.

        Raises:
            ValueError: As ``add`` and ``put``; what stood before it is taken.
        """
        with self._wake:
            for item in items:
                if isinstance(item, Body):
                    self.put(item)
                else:
                    self.add(item)

    def close_job(self, closed: JobClosed) -> None:
        """Close the running job: from now on the spool may forget it, once acknowledged."""
        self.put(closed)

    def flush(self, timeout_s: float) -> bool:
        """Wait until all that was given so far is on the disk.

        Returns:
            False if it took longer.
        """
        with self._wake:
            target = self._given_n
            self._is_flushing = True
            self._wake.notify_all()
            return self._wake.wait_for(lambda: self._stored_n >= target, timeout_s)

    def close(self, timeout_s: float = 10.0) -> None:
        """Commit what is left, once, and end the thread."""
        with self._wake:
            self._is_closing = True
            self._wake.notify_all()
        self._thread.join(timeout_s)

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _given(self) -> None:
        self._given_n += 1
        if self._batches.is_due:
            self._wake.notify_all()

    def _run(self) -> None:
        is_closing = False
        while not is_closing:
            with self._wake:
                self._wake.wait_for(self._is_called, self._pause_s)
                is_closing = self._is_closing
                self._is_flushing = False
                given_n = self._given_n
                self._waiting.extend(self._batches.take())
            self._store_all(given_n)

    def _is_called(self) -> bool:
        # with a fault, hurrying would only make the disk busier
        is_due = self._batches.is_due and self._fault is None
        return self._is_closing or self._is_flushing or is_due

    def _store_all(self, given_n: int) -> None:
        while self._waiting or self._lost:
            if not self._store_some():
                self._drop_oldest()
                return
        with self._wake:
            self._stored_n = given_n
            self._wake.notify_all()

    def _store_some(self) -> bool:
        some = list(islice(self._waiting, COMMITTED_N))
        try:
            self._spool.append(some, self._lost)
        except sqlite3.Error as error:
            self._refused(error)
            return False
        except Exception:  # noqa: BLE001 - a bug must not end the thread, nor come again for ever
            _log.exception("%d messages that can't be stored are given up", len(some))
            self._give_up(some)
            return True
        self._fault = None
        self._lost.clear()
        for _ in some:
            self._waiting.popleft()
        self._tell()
        return True

    def _give_up(self, some: list[Entry]) -> None:
        self.counters["given-up"] += len(some)
        for entry in some:
            self._waiting.popleft()
            if isinstance(entry.body, Samples):
                self._lose(entry.body)

    def _refused(self, error: sqlite3.Error) -> None:
        self.counters["refused-commits"] += 1
        if self._fault is None:
            _log.error("the spool refuses: %s", error)
        self._fault = f"the spool refuses: {error}"
        if is_damage(error):
            self._renew()

    def _renew(self) -> None:
        opened = next((one for one in self._waiting if isinstance(one.body, JobOpened)), None)
        with self._wake:
            running = self._batches.running
        try:
            # a job whose opening waits is opened by that
            self._spool.renew(running if opened is None else None)
        except (SpoolError, sqlite3.Error) as error:
            _log.error("the damaged spool can't be renewed: %s", error)
        else:
            self.counters["renewed"] += 1

    def _drop_oldest(self) -> None:
        while len(self._waiting) > HELD_N:
            entry = next((one for one in self._waiting if isinstance(one.body, Samples)), None)
            if entry is None or not isinstance(entry.body, Samples):
                return
            self._waiting.remove(entry)
            self._lose(entry.body)

    def _lose(self, pack: Samples) -> None:
        gap = Gap(pack.samples[0].t, pack.samples[-1].t)
        self.counters["lost-samples"] += len(pack.samples)
        if self._lost and self._lost[-1].to_s <= gap.from_s:
            gap = Gap(self._lost.pop().from_s, gap.to_s)
        self._lost.append(gap)

    def _tell(self) -> None:
        try:
            self._on_stored()
        except Exception:  # noqa: BLE001 - whoever listens must not end the storing
            _log.exception("after a commit")
            self.counters["listener-failures"] += 1


def _check(body: Body) -> None:
    """Find what can't be sent while still in the caller's thread, where the bug is."""
    encode(Envelope(site="x", bench="x", boot="x", seq=1, body=body))
