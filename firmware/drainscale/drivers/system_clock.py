"""The clock of a real bench."""

import threading
import time
from collections.abc import Callable

from drainscale.drivers.paths import BoardPaths
from drainscale.ports import Stop, Worker

_STEP_S = 0.05  # how often a flag that cannot wake anybody is looked at


class SystemClock:
    """The board's monotonic clock, which neither a time server nor the technician can move."""

    def __init__(self, paths: BoardPaths | None = None) -> None:
        self._time_is_set = (paths or BoardPaths()).time_is_set

    def now_s(self) -> float:
        """Return the seconds since the board started."""
        return time.monotonic()

    def wall_s(self) -> float:
        """Return the seconds since 1970-01-01 UTC, right only if ``is_wall_set``."""
        return time.time()

    def is_wall_set(self) -> bool:
        """Tell whether the time service has set the wall clock since the board started."""
        return self._time_is_set.exists()

    def sleep(self, duration_s: float) -> None:
        """Wait; returns at once for 0 or less."""
        if duration_s > 0.0:
            time.sleep(duration_s)

    def wait(self, stop: Stop, timeout_s: float) -> bool:
        """Wait until the flag is set, at most so long; True if it is set."""
        if isinstance(stop, threading.Event):
            return stop.wait(max(timeout_s, 0.0))
        end_s = self.now_s() + timeout_s
        while not stop.is_set() and self.now_s() < end_s:
            self.sleep(min(_STEP_S, end_s - self.now_s()))
        return stop.is_set()

    def start(self, name: str, work: Callable[[], None]) -> Worker:
        """Run ``work`` in a thread of its own."""
        thread = threading.Thread(target=work, name=name, daemon=True)
        thread.start()
        return thread

    def join(self, worker: Worker, timeout_s: float) -> bool:
        """Wait for the worker's end; True if it has ended."""
        if isinstance(worker, threading.Thread):
            worker.join(max(timeout_s, 0.0))
        return not worker.is_alive()
