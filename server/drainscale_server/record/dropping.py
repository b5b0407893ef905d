"""Samples of old jobs, dropped by a thread of its own once the record has what it needs of them.

    with Dropping(store, keep_days=400): ...    # now, and then once a day

It takes the store's lock for one small batch at a time and rests for at least as long as that
took, so what the benches send never waits for more than a batch.
"""

import logging
import threading
import time
from collections.abc import Callable
from functools import partial
from types import TracebackType
from typing import Self

from drainscale.errors import StoreError
from drainscale_server.record.kept import Kept, packed
from drainscale_server.record.sources import take
from drainscale_server.store.store import Store

DAY_S = 86_400.0
AGAIN_S = 900.0  # after the store refused
PACKS_N = 100  # in a batch: half a megabyte at 80 samples a second
PAGES_N = 128  # likewise
REST_S = 0.02  # after a batch, at least
BEGAN_S = 1_767_225_600.0  # 2026-01-01 UTC: what came before came while the clock was not set
_log = logging.getLogger(__name__)


class Dropping:
    """Drops what is older than the shop wants to keep.

    Args:
        store: From where.
        keep_days: How long samples are kept after their job was over; None: for ever. What was
            begun is finished all the same.
        wall_s: The server's clock, s since 1970 UTC.
        steady_s: A clock that nobody sets, s.
    """

    def __init__(
        self,
        store: Store,
        keep_days: float | None,
        wall_s: Callable[[], float] = time.time,
        steady_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self._store = store
        self._keep_days = keep_days
        self._wall_s = wall_s
        self._steady_s = steady_s
        self._is_first = True  # a predecessor may have been killed before it gave room back
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="dropping", daemon=True)

    def start(self) -> None:
        """Start the thread."""
        self._thread.start()

    def stop(self, timeout_s: float = 10.0) -> None:
        """Finish the batch in hand and end the thread; harmless if it never ran."""
        self._stopping.set()
        if self._thread.is_alive():
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
        self.stop()

    def _run(self) -> None:
        while not self._stopping.is_set():
            pause_s = DAY_S
            try:
                self.turn()
            except StoreError as error:
                _log.error("dropping: the store refuses, again in a while: %s", error)
                pause_s = AGAIN_S
            except Exception:  # noqa: BLE001 - a bug must not end it for ever; it is logged
                _log.exception("dropping: again tomorrow")
            self._stopping.wait(pause_s)

    def turn(self) -> None:
        """Drop what is due, and give the room back.

        Raises:
            StoreError: The store refuses; the rest is left for another time.
        """
        dropped_n = self._finish()
        if self._keep_days is not None:
            before_s = self._wall_s() - self._keep_days * DAY_S
            for job in self._store.finished_jobs(before_s):
                if self._stopping.is_set():
                    return
                if self._begin(job, before_s):
                    dropped_n += self._finish()
        if dropped_n or self._is_first:
            self._in_batches(lambda: self._store.give_back(PAGES_N) > 0)
            self._store.work_log_in()
        self._is_first = False

    def _begin(self, job: str, before_s: float) -> bool:
        """Note a job as dropped; not one that is still sent, is damaged, or has no result."""
        if self._store.result(job) is None:
            return False  # its samples are all that tells what was measured
        row = self._store.job(job)
        assert row is not None
        try:
            taken = take(self._store, row)
        except StoreError as error:
            _log.error("dropping: job %s keeps its samples: %s", job, error)
            return False
        if taken.digest.samples_n == 0 or not BEGAN_S <= taken.last_received_s < before_s:
            return False
        kept = Kept(
            digest=taken.digest,
            messages_sha256=taken.messages_sha256,
            messages_n=taken.messages_n,
        )
        now_s = self._wall_s()
        if not self._store.begin_dropping(job, packed(kept), taken.messages_n, now_s):
            return False
        _log.info("job %s: its %d samples are dropped", job, taken.digest.samples_n)
        return True

    def _finish(self) -> int:
        """Drop what is left of the jobs that are noted as dropped; tell how many those were."""
        jobs = self._store.unfinished_drops()
        for job in jobs:
            self._in_batches(partial(self._drop_some, job))
        return len(jobs)

    def _drop_some(self, job: str) -> bool:
        return self._store.drop_some(job, PACKS_N) == PACKS_N

    def _in_batches(self, batch: Callable[[], bool]) -> None:
        """Do batches until one says that it was the last, or we are to stop."""
        while not self._stopping.is_set():
            began_s = self._steady_s()
            if not batch():
                return
            self._stopping.wait(max(REST_S, self._steady_s() - began_s))
