"""Straight lines by least squares, in plain floats, for windows of some ten points."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from drainscale.errors import QuantityError


@dataclass(frozen=True, slots=True)
class Line:
    """``mean + slope (t - t_mean)`` with the scatter about it (n - 2 degrees of freedom)."""

    t_mean: float
    mean: float
    slope: float
    rms: float
    sxx: float
    n: int

    def at(self, t: float) -> float:
        """Value of the line at ``t``."""
        return self.mean + self.slope * (t - self.t_mean)

    def u_slope(self, sigma: float) -> float:
        """Standard uncertainty of the slope for white scatter ``sigma`` of one point."""
        return sigma / sqrt(self.sxx) if self.sxx > 0.0 else float("inf")


def fit_line(times: Sequence[float], values: Sequence[float]) -> Line:
    """Fit a line by ordinary least squares.

    Args:
        times: Instants, s. Shape (n,), n >= 2, not all equal.
        values: Values there, any unit. Shape (n,).

    Raises:
        QuantityError: Fewer than two points.

    Source:
        JCGM 100:2008, H.3.

    Example:
        >>> fit_line([0.0, 1.0, 2.0], [0.0, 5.0, 10.0]).slope
        5.0
    """
    n = len(times)
    if n < 2 or n != len(values):
        raise QuantityError(f"{n} times and {len(values)} values: 2 pairs or more needed")
    t_mean, mean = sum(times) / n, sum(values) / n
    sxx = sxy = syy = 0.0
    for t, y in zip(times, values, strict=True):
        dt, dy = t - t_mean, y - mean
        sxx += dt * dt
        sxy += dt * dy
        syy += dy * dy
    slope = sxy / sxx if sxx > 0.0 else 0.0
    left = max(syy - slope * sxy, 0.0)
    return Line(t_mean, mean, slope, sqrt(left / (n - 2)) if n > 2 else 0.0, sxx, n)
