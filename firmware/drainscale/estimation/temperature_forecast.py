"""When the warming fluid is at a limit: a distribution over time, past and future alike.

The fluid only rises while the engine idles, so "at the limit by ``t``" is the same event as
"at or above the limit at ``t``": the normal distribution of the temperature along the path
gives the distribution of the crossing time, skewed as it comes out.
"""

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final, NamedTuple

from drainscale.estimation.temperature_dynamics import FLUID, HEAT_SIZE, Row, carry_heat

HORIZON_S: Final = 3600.0
_FINE_STEP_S: Final = 15.0
_FINE_UNTIL_S: Final = 300.0
_COARSE_STEP_S: Final = 30.0
_ENOUGH_SIGMA: Final = 2.5
_LEAST_VARIANCE: Final = 1e-6  # K²; keeps the divisions by u finite
_LOW_Z: Final = NormalDist().inv_cdf(0.05)
_HIGH_Z: Final = -_LOW_Z


def normal_cdf(z: float) -> float:
    """Standard normal distribution function."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def _root(variance: float) -> float:
    return math.sqrt(max(variance, _LEAST_VARIANCE))


@dataclass(frozen=True, slots=True)
class PathPoint:
    """The fluid at one time: best estimate and standard uncertainty."""

    t: float
    fluid_C: float
    u_K: float


@dataclass(frozen=True, slots=True)
class Crossing:
    """When the fluid is at a limit: best estimate and 90 % interval, s; None where unknown."""

    best_s: float | None
    interval_s: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class WindowForecast:
    """When the fluid enters and leaves the window; 90 % intervals, s; None where unknown."""

    t: float
    opens_s: float | None
    opens_90: tuple[float, float] | None
    closes_s: float | None
    closes_90: tuple[float, float] | None


def heating_path(
    t: float, x: Sequence[float], p: Sequence[Row], air_C: float, until_C: float
) -> list[PathPoint]:
    """Carry the heat side on from ``t`` until it is surely above ``until_C``.

    Args:
        t: Now, s.
        x: State, heat side first.
        p: Its covariance.
        air_C: Air at the pan, °C.
        until_C: Stop where the fluid is above this by 2.5 standard uncertainties, °C.

    Returns:
        The path, now first; ends at the latest `HORIZON_S` ahead.
    """
    heat = list(x[:HEAT_SIZE])
    cov = [row[:HEAT_SIZE] for row in p[:HEAT_SIZE]]
    path = [PathPoint(t, heat[FLUID], _root(cov[FLUID][FLUID]))]
    ahead = 0.0
    while ahead < HORIZON_S:
        h = _FINE_STEP_S if ahead < _FINE_UNTIL_S else _COARSE_STEP_S
        carry_heat(heat, cov, h, air_C)
        ahead += h
        point = PathPoint(t + ahead, heat[FLUID], _root(cov[FLUID][FLUID]))
        path.append(point)
        if point.fluid_C - _ENOUGH_SIGMA * point.u_K > until_C:
            break
    return path


def _first_above(path: Sequence[PathPoint], limit_C: float, z: float) -> float | None:
    """First time at which the fluid is above the limit with probability cdf(z)."""
    before_t, before = 0.0, -math.inf
    for point in path:
        margin = point.fluid_C - limit_C - z * point.u_K
        if margin >= 0.0:
            if before == -math.inf:
                return point.t
            return before_t + (point.t - before_t) * before / (before - margin)
        before_t, before = point.t, margin
    return None


def _last_rise_above(path: Sequence[PathPoint], limit_C: float, z: float) -> float | None:
    """Time since which that holds; None where it does not, or has held all along."""
    found, before_t, before = None, 0.0, math.inf
    for point in path:
        margin = point.fluid_C - limit_C - z * point.u_K
        if margin < 0.0:
            found = None
        elif before < 0.0:
            found = before_t + (point.t - before_t) * before / (before - margin)
        before_t, before = point.t, margin
    return found


class LimitTimes(NamedTuple):
    """When a path is at a limit, whatever the time is now: best estimate, 5 % and 95 %, s."""

    best_s: float | None
    low_s: float | None
    high_s: float | None

    def as_of(self, now: float) -> Crossing:
        """Leave out what lies too far ahead."""
        best, low, high = self
        if best is None or best > now + HORIZON_S:
            return Crossing(None, None)
        if low is None or high is None or high > now + HORIZON_S:
            return Crossing(best, None)
        return Crossing(best, (low, high))


def limit_times(path: Sequence[PathPoint], limit_C: float) -> LimitTimes:
    """Find when the fluid is at the limit along a path of past and future points.

    What the estimate was in the past and what it is now may differ; where they do, the
    present one is right, so the *last* rise above the limit counts. Above the limit since
    the path began means that the crossing was never seen.
    """
    best = _last_rise_above(path, limit_C, 0.0)
    if best is None:
        return LimitTimes(None, None, None)
    return LimitTimes(
        best, _first_above(path, limit_C, _LOW_Z), _last_rise_above(path, limit_C, _HIGH_Z)
    )


def crossing(path: Sequence[PathPoint], limit_C: float, now: float) -> Crossing:
    """Find when the fluid is at the limit along a path, as far as that is near enough now."""
    return limit_times(path, limit_C).as_of(now)


def along(path: Sequence[PathPoint], then: float) -> PathPoint:
    """Read a path at ``then``, s; beyond its ends the end stands."""
    i = bisect_right(path, then, key=lambda point: point.t)
    if i == 0 or i == len(path):
        return path[max(i - 1, 0)]
    a, b = path[i - 1], path[i]
    share = (then - a.t) / (b.t - a.t)
    return PathPoint(
        then, a.fluid_C + share * (b.fluid_C - a.fluid_C), a.u_K + share * (b.u_K - a.u_K)
    )


def p_reached_by(path: Sequence[PathPoint], limit_C: float, then: float) -> float:
    """Probability that the fluid has reached the limit by ``then``, s."""
    point = along(path, then)
    return normal_cdf((point.fluid_C - limit_C) / point.u_K)
