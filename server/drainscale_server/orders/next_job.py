"""The job that each bench is to do next: a retained message, kept as the store has it.

The broker may forget it (the embedded one does at a restart), so it is said again after each
connect; and it is cleared once the bench has begun it, or somebody took it back.
"""

import logging
import queue
import threading
from collections.abc import Iterable

from drainscale.errors import DrainscaleError
from drainscale.messages.codec import encode
from drainscale.messages.topics import BenchId
from drainscale_server.orders.commands import Publish
from drainscale_server.store.rows import JobRow
from drainscale_server.store.store import Store

STOP_S = 5.0

log = logging.getLogger(__name__)


class NextJobs:
    """Says to each bench what is next; in a thread of its own, so that nobody waits for it.

    Args:
        store: Where planned jobs stand.
        publish: The way to the broker.
    """

    def __init__(self, store: Store, publish: Publish) -> None:
        self._store = store
        self._publish = publish
        self._said: dict[BenchId, bytes] = {}
        self._queue: queue.SimpleQueue[BenchId | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._run, name="orders", daemon=True)

    def start(self) -> None:
        """Start the thread."""
        self._thread.start()

    def stop(self) -> None:
        """End the thread; harmless if it never ran."""
        if self._thread.is_alive():
            self._queue.put(None)
            self._thread.join(STOP_S)

    def look(self, benches: Iterable[BenchId]) -> None:
        """Look anew at what is next on these benches; from any thread."""
        for bench in benches:
            self._queue.put(bench)

    def on_connected(self) -> None:
        """Say everything again: the broker may have forgotten it."""
        self._said.clear()
        self.look(BenchId(one.site, one.bench) for one in self._store.benches())

    def say(self, bench: BenchId) -> None:
        """Say what is next on a bench, unless it was said.

        Raises:
            StoreError: The store refuses.
        """
        planned = next_planned(self._store, bench)
        payload = b"" if planned is None or planned.ordered is None else encode(planned.ordered)
        if self._said.get(bench) == payload:
            return
        if self._publish(bench.topic("job"), payload, True):
            self._said[bench] = payload
            log.info("next job of %s/%s: %s", bench.site, bench.bench, planned and planned.job)

    def _run(self) -> None:
        while (bench := self._queue.get()) is not None:
            try:
                self.say(bench)
            except DrainscaleError as error:
                log.error("next job of %s/%s: %s", bench.site, bench.bench, error)
            except Exception:  # the thread must outlive any bug; it is logged
                log.exception("next job of %s/%s", bench.site, bench.bench)


def next_planned(store: Store, bench: BenchId) -> JobRow | None:
    """Find the job that a bench is to do next: the oldest one ordered.

    Raises:
        StoreError: The store refuses.
    """
    after: str | None = None
    while True:
        page = store.jobs(bench.site, bench.bench, ["planned"], after=after)
        if page.after is None:
            return page.rows[-1] if page.rows else None
        after = page.after
