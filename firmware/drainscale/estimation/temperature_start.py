"""When did the engine start? Run the last minutes again from several start times.

The pan shows the start only a minute later, and the technician's word may be ten seconds
off or missing. Each candidate start is judged by how well the readings since then agree
with it, times what was said.
"""

import math
from collections import deque
from typing import Final, NamedTuple

from drainscale.estimation.temperature_filter import WarmUpFilter

_MEMORY_S: Final = 210.0
_SNAPSHOT_STEP_S: Final = 12.0
_TOLD_U_S: Final = 8.0  # a person presses "engine runs" some seconds early or late
_TOLD_WRONG: Final = 0.02  # share of marks that are nowhere near


class Reading(NamedTuple):
    """What a filter is fed with: a mean of pan readings, or a reading of the fluid itself."""

    t: float  # s
    value_C: float
    u_K: float
    air_C: float
    is_fluid: bool = False


def feed(target: WarmUpFilter, reading: Reading) -> None:
    """Carry a filter on to a reading and let it take it in."""
    target.predict(reading.t, reading.air_C)
    if reading.is_fluid:
        target.update_fluid(reading.value_C, reading.u_K)
    else:
        target.update_pan(reading.value_C, reading.u_K)


class StartSearch:
    """Keeps idle states and readings of the last minutes, and picks the likeliest start."""

    def __init__(self) -> None:
        self._snapshots: deque[WarmUpFilter] = deque()
        self._readings: deque[Reading] = deque()

    def clear(self) -> None:
        """Forget everything: a new start is due."""
        self._snapshots.clear()
        self._readings.clear()

    def add(self, idle: WarmUpFilter, reading: Reading) -> None:
        """Keep a reading, and now and then the idle state after it."""
        self._readings.append(reading)
        if not self._snapshots or idle.t - self._snapshots[-1].t >= _SNAPSHOT_STEP_S:
            self._snapshots.append(idle.copy())
        while idle.t - self._snapshots[0].t > _MEMORY_S and len(self._snapshots) > 1:
            self._snapshots.popleft()
        while self._readings and self._readings[0].t <= self._snapshots[0].t:
            self._readings.popleft()

    def likeliest(self, rise_s: float, told_s: float | None) -> tuple[float, WarmUpFilter] | None:
        """Find the likeliest start.

        Args:
            rise_s: When the pan began to rise: the engine ran by then.
            told_s: When somebody said it started; None if nobody did.

        Returns:
            The start, s, and a running filter that was carried on to the last reading; None
            where nothing is known from before ``rise_s``.
        """
        best, best_score = None, -math.inf
        for snapshot in self._snapshots:
            if snapshot.t > rise_s:
                break
            candidate = self._run_from(snapshot)
            score = candidate.log_likelihood + _told_ln(snapshot.t, told_s)
            if score > best_score:
                best, best_score = (snapshot.t, candidate), score
        return best

    def _run_from(self, snapshot: WarmUpFilter) -> WarmUpFilter:
        candidate = snapshot.copy()
        for reading in self._readings:
            if reading.t <= snapshot.t:
                continue
            if not candidate.running:
                candidate.start(reading.air_C)
            feed(candidate, reading)
        return candidate


def _told_ln(start_s: float, told_s: float | None) -> float:
    """Log of what was said about the start, up to a constant."""
    if told_s is None:
        return 0.0
    z = (start_s - told_s) / _TOLD_U_S
    return math.log(math.exp(-0.5 * z * z) + _TOLD_WRONG)
