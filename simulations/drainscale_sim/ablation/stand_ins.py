"""Plainer methods that take a part's place: what one would write first."""

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from drainscale.estimation.drain import Tail
from drainscale.estimation.flow import FlowTracker


def constant(value: Any) -> Callable[..., Any]:
    """Return a function (or method) that answers the same whatever it is asked."""

    def answer(*_: Any, **__: Any) -> Any:
        return value

    return answer


@dataclass(frozen=True, slots=True)
class PlainTail(Tail):
    """A flow as a straight line's slope: it belongs to the middle of its window."""

    half_s: float = 0.0

    def falls_below_s(self, limit_kg_per_s: float) -> float:
        """When the slope was below the limit: half a window ago."""
        del limit_kg_per_s
        return self.t - self.half_s


def plain_tail(window_s: float) -> Callable[[FlowTracker, float], Tail | None]:
    """Make a tail of the slope over the last seconds."""

    def fit(flow: FlowTracker, started_s: float) -> Tail | None:
        last = flow.last
        if last is None or last.t - started_s < window_s:
            return None
        slope = flow.slope(last.t - window_s)
        if slope is None:
            return None
        since_s = last.t - started_s
        half_s = 0.5 * window_s
        return PlainTail(last.t, slope.kg_per_s, slope.u_kg_per_s, 1.5, since_s, half_s)

    return fit


class SlopeSpill:
    """A spill as a straight line through the last seconds, and its bend.

    Stands in for the model of a spill; knows nothing of rim, pipe or warming.
    """

    WINDOW_S = 6.0

    def __init__(self, t: float, flow_mL_per_s: float, u: float, g_per_mL: float, *_: Any) -> None:
        self.t = t
        self._g_per_mL = g_per_mL
        self._readings: deque[tuple[float, float]] = deque()
        self._flows: deque[tuple[float, float]] = deque()
        self._flow, self._u = flow_mL_per_s, u

    def inflow(self, *_: Any) -> None:
        """Know nothing of it."""

    def reading(self, t: float, g: float, sigma_g: float, *, jumped: bool = False) -> None:
        """Take the grams run out since the start."""
        self.t = t
        if jumped:
            self._readings.clear()
        self._readings.append((t, g))
        while t - self._readings[0][0] > self.WINDOW_S:
            self._readings.popleft()
        n = len(self._readings)
        if n < 4:
            return
        slope, sxx = _slope(self._readings)
        self._flow = slope / self._g_per_mL
        self._u = max(sigma_g / sxx**0.5, 0.002) / self._g_per_mL
        self._flows.append((t, self._flow))
        while t - self._flows[0][0] > 20.0:
            self._flows.popleft()

    def flow_mL_per_s(self, t: float) -> tuple[float, float]:
        """Flow now, carried from the window's middle by the bend."""
        ahead = t - self.t + 0.5 * self.WINDOW_S
        return max(self._flow - ahead * self.decline_mL_per_s2(), 0.0), self._u

    def decline_mL_per_s2(self) -> float:
        """Bend over the last 20 s."""
        if len(self._flows) < 8:
            return 0.0
        return max(-_slope(self._flows)[0], 0.0)

    def excess_mL(self) -> tuple[float, float]:
        """What a straight fall of the flow would still bring."""
        decline = self.decline_mL_per_s2()
        left = self._flow**2 / (2.0 * decline) if decline > 0.0 else 0.0
        return left, left

    def finishes(self, limit_mL_per_s: float) -> list[tuple[float, float | None]]:
        """When a straight fall of the flow reaches the limit."""
        decline, flow = self.decline_mL_per_s2(), self.flow_mL_per_s(self.t)[0]
        if flow <= limit_mL_per_s:
            return [(1.0, 0.0)]
        return [(1.0, (flow - limit_mL_per_s) / decline if decline > 0.0 else None)]


def _slope(points: deque[tuple[float, float]]) -> tuple[float, float]:
    n = len(points)
    t_mean = sum(t for t, _ in points) / n
    y_mean = sum(y for _, y in points) / n
    sxx = sum((t - t_mean) ** 2 for t, _ in points)
    sxy = sum((t - t_mean) * (y - y_mean) for t, y in points)
    return (sxy / sxx, sxx) if sxx > 0.0 else (0.0, 1.0)
