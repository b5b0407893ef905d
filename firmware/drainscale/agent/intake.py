"""Where the sensors' threads put what they read, stamped and in time order.

A reading gets its time at the moment when it is put in, under one lock: so times never
decrease whatever thread is late, and the recording holds exactly what the core is fed.
"""

import threading
from collections.abc import Callable

from drainscale.ports import Clock
from drainscale.quantities.samples import Sample
from drainscale.recording.encode import recordable_time


class Intake:
    """Collects samples of one job from several threads.

    Args:
        clock: The bench's clock.
        started_s: What it showed at the job's ``t = 0``.
    """

    def __init__(self, clock: Clock, started_s: float) -> None:
        self._clock = clock
        self._started_s = started_s
        self._lock = threading.Lock()
        self._samples: list[Sample] = []
        self._last_t = 0.0

    def now_t(self) -> float:
        """The job's time, s, as a recording can hold it; never before the last sample."""
        with self._lock:
            return self._stamp()

    def _stamp(self) -> float:
        self._last_t = max(self._last_t, recordable_time(self._clock.now_s() - self._started_s))
        return self._last_t

    def resume_after(self, t: float) -> None:
        """Times go on from ``t``: what the spool holds of this job ends there."""
        with self._lock:
            self._last_t = max(self._last_t, t)

    def put(self, make: Callable[[float], Sample]) -> None:
        """Stamp and keep a sample; ``make`` gets the time."""
        with self._lock:
            self._samples.append(make(self._stamp()))

    def take(self) -> list[Sample]:
        """What came since the last call, in time order."""
        with self._lock:
            taken, self._samples = self._samples, []
        return taken
