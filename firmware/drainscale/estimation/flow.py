"""The mass flow onto a platform, from the readings that could be trusted.

Readings are gathered into half-second bins. A gap whose step the running flow explains keeps
the reading's level; any other step (a hand that stays, a tool laid down) starts a new
*segment*: segments share a slope, not a level, so a step never looks like a flow.
"""

from collections import deque
from dataclasses import dataclass
from math import cos, hypot, inf, pi, sqrt
from statistics import median

from drainscale.estimation.levels import Bin, Levels
from drainscale.estimation.platform import Gap, Still

BIN_S = 0.5
KEEP_S = 240.0
STEP_SIGMAS = 4.0
STEP_KG = 0.0006  # what a knock leaves behind at most
MIN_SIGMA_KG = 0.00005
# slow wander of cell and amplifier: variance of the reading grows by its square each second
WANDER_KG_PER_SQRT_S = 0.00002
# what swings with a pump's strokes, one in a second or two (common practice, no source): its mean
# course, by a window that lets nearly nothing of two strokes through
REST_S, REST_BINS = 20.0, 12
SWING_S = 3.25
SWING_SLOPE_S = 10.0
SWING_AHEAD_S = 1.0


@dataclass(frozen=True, slots=True)
class Slope:
    """A flow with its standard uncertainty, over bins from ``t0`` to ``t1``."""

    kg_per_s: float
    u_kg_per_s: float
    t0: float
    t1: float
    n: int

    @property
    def t_mid(self) -> float:
        """The middle of the window: the instant that the slope belongs to."""
        return 0.5 * (self.t0 + self.t1)


class FlowTracker:
    """Bins of one load on one platform, and slopes through them."""

    def __init__(self) -> None:
        self.bins: deque[Bin] = deque()
        self._segment = 0
        self._open_t0 = 0.0
        self._n = 0
        self._sum_t = self._sum_kg = self._sum_var = 0.0

    def clear(self) -> None:
        """Forget everything: another load stands there."""
        self.bins.clear()
        self._n = 0
        self._segment += 1

    def still(self, reading: Still) -> Bin | None:
        """Take a trusted reading; return the bin that it completes, if it does."""
        done = None
        if self._n and reading.t - self._open_t0 >= BIN_S - 0.01:
            done = self._close()
        if not self._n:
            self._open_t0 = reading.t
            self._sum_t = self._sum_kg = self._sum_var = 0.0
        self._n += 1
        self._sum_t += reading.t
        self._sum_kg += reading.kg
        self._sum_var += reading.sigma_kg**2
        return done

    def gap(self, gap: Gap, flow_kg_per_s: float | None = None) -> bool:
        """Take a gap; return whether the flow on both sides explains its step.

        Args:
            gap: What stood on either side.
            flow_kg_per_s: The flow before it, where known better than by the gap's own slope.
        """
        if self._n:
            self._close()
        before = gap.slope0_kg_per_s if flow_kg_per_s is None else flow_kg_per_s
        dt = gap.t1 - gap.t0
        low, high = sorted((before * dt, gap.slope1_kg_per_s * dt))
        slack = STEP_KG + STEP_SIGMAS * gap.sigma_kg * (1.0 + dt)
        explained = low - slack <= gap.step_kg <= high + slack and not gap.is_noisy
        if not explained:
            self._segment += 1
        return explained

    def _close(self) -> Bin:
        n = self._n
        sigma = max(sqrt(self._sum_var / n), MIN_SIGMA_KG) / sqrt(n)
        done = Bin(self._segment, self._sum_t / n, self._sum_kg / n, sigma)
        self._n = 0
        self.bins.append(done)
        while done.t - self.bins[0].t > KEEP_S:
            self.bins.popleft()
        return done

    def new_segment(self) -> None:
        """The level of what follows has nothing to do with what came before."""
        if self._n:
            self._close()
        self._segment += 1

    def settled_kg(self, t: float, flow_kg_per_s: float, over_s: float = 5.0) -> float | None:
        """Level at ``t`` by the readings of the last seconds, brought on by the flow.

        Only readings of the latest segment; ``None`` without any.
        """
        if not self.bins:
            return None
        segment = self.bins[-1].segment
        weight = total = 0.0
        for one in reversed(self.bins):
            if one.segment != segment or t - one.t > over_s:
                break
            w = 1.0 / one.sigma_kg**2
            weight += w
            total += w * (one.kg + flow_kg_per_s * (t - one.t))
        return total / weight if weight else None

    def middle_kg(self, since_t: float) -> float | None:
        """Median of a level at rest: a hand in a quarter of its time does not move it.

        Only readings of the latest segment, of the last seconds; ``None`` with too few.
        """
        if not self.bins:
            return None
        last = self.bins[-1]
        level = [
            one.kg
            for one in self.since(max(since_t, last.t - REST_S))
            if one.segment == last.segment
        ]
        return median(level) if len(level) >= REST_BINS else None

    def swung_kg(self) -> float | None:
        """Mean course of a load that swings, some half second ago; ``None`` while too short.

        Weights 1 - cos over two strokes, brought on by the slope of several: not by so much
        that a pump that has stopped meanwhile would seem to go on.

        Source:
            Hann's window, Harris, Proc. IEEE 66 (1978) 51.
        """
        if not self.bins:
            return None
        last = self.bins[-1]
        over = [one for one in self.since(last.t - SWING_S) if one.segment == last.segment]
        slope = self.slope(last.t - SWING_SLOPE_S)
        if slope is None or last.t - over[0].t < SWING_S - 1.5 * BIN_S:
            return None
        weights = [
            1.0 - cos(2.0 * pi * (last.t + BIN_S - one.t) / (SWING_S + BIN_S)) for one in over
        ]
        mean_kg = sum(w * one.kg for w, one in zip(weights, over, strict=True)) / sum(weights)
        return mean_kg + SWING_AHEAD_S * slope.kg_per_s

    def since(self, t: float, until: float = inf) -> list[Bin]:
        """The bins from ``t`` to ``until``."""
        found: list[Bin] = []
        for one in reversed(self.bins):
            if one.t < t:
                break
            if one.t <= until:
                found.append(one)
        found.reverse()
        return found

    def slope(self, t: float, until: float = inf) -> Slope | None:
        """The flow since ``t``, or ``None`` with fewer than three bins."""
        return common_slope(self.since(t, until))

    @property
    def last(self) -> Bin | None:
        """The latest bin."""
        return self.bins[-1] if self.bins else None


def common_slope(bins: list[Bin]) -> Slope | None:
    """Slope that all segments share, each with its own level; weighted least squares.

    Returns:
        The slope with its standard uncertainty by the bins' own scatter plus the slow wander
        of the reading, or ``None`` where fewer than three bins or one instant only.

    Source:
        JCGM 100:2008, H.3, with the level eliminated a segment at a time (analysis of
        covariance with a common slope).
    """
    if len(bins) < 3:
        return None
    slope, u, _ = Levels(bins).straight([one.t for one in bins])
    if u == inf:
        return None
    span = max(bins[-1].t - bins[0].t, BIN_S)
    return Slope(
        slope, hypot(u, WANDER_KG_PER_SQRT_S / sqrt(span)), bins[0].t, bins[-1].t, len(bins)
    )
