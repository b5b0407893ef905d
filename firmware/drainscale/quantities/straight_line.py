"""A straight line through points with uncertainties, by ISO/TS 28037.

``y = a + b x``. With uncertainty in y only, weighted least squares (clause 6); with uncertainty
in x too, generalised distance regression (clause 7): the points are moved to the line along
their own uncertainties, and the weighted problem is solved again until it stays put. Both use
the same solver, so the first is the second with u(x) = 0.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import erfc, exp, isfinite, pi, sqrt

from drainscale.errors import QuantityError

_MOST_ITERATIONS = 100
_SMALL_STEP = 1e-8  # of the parameters' own standard uncertainties


@dataclass(frozen=True, slots=True)
class Line:
    """A fitted line with the covariance of its parameters and its goodness of fit."""

    a: float  # intercept, unit of y
    b: float  # slope, unit of y per unit of x
    u_a: float
    u_b: float
    cov_ab: float
    chi2: float
    dof: int

    def y(self, x: float, u_x: float = 0.0) -> tuple[float, float]:
        """Value on the line and its standard uncertainty, for an x with its own (forward use)."""
        u2 = self.u_a**2 + x**2 * self.u_b**2 + 2.0 * x * self.cov_ab + (self.b * u_x) ** 2
        return self.a + self.b * x, sqrt(max(u2, 0.0))

    def x(self, y: float, u_y: float = 0.0) -> tuple[float, float]:
        """The x that gives this y, and its standard uncertainty (inverse use)."""
        x = (y - self.a) / self.b
        u2 = self.u_a**2 + x**2 * self.u_b**2 + 2.0 * x * self.cov_ab + u_y**2
        return x, sqrt(max(u2, 0.0)) / abs(self.b)

    @property
    def p_value(self) -> float:
        """Chance of a chi-squared as large as this if line and uncertainties are right.

        1 where no degree of freedom is left: nothing could speak against the line.
        """
        return chi_squared_tail(self.chi2, self.dof)

    @property
    def is_consistent(self) -> bool:
        """Whether the points do not speak against a line at the 5 % level."""
        return self.p_value >= 0.05


def fit_line(
    x: Sequence[float],
    y: Sequence[float],
    u_y: float | Sequence[float],
    u_x: float | Sequence[float] | None = None,
) -> Line:
    """Fit a straight line to points with known standard uncertainties.

    Args:
        x: Shape (n,), n >= 2, not all the same.
        y: Shape (n,).
        u_y: Standard uncertainty of each y, one number or shape (n,); above 0, unless u_x is.
        u_x: Standard uncertainty of each x, or None for exact ones.

    Returns:
        The line with n - 2 degrees of freedom.

    Raises:
        QuantityError: Too few points, unequal lengths, numbers not finite, an uncertainty below
            0, a point without any, x all the same, or no convergence.

    Source:
        ISO/TS 28037:2010, clauses 6.2 and 7.3.

    Example:
        >>> line = fit_line([1, 2, 3, 4, 5, 6], [3.3, 5.6, 7.1, 9.3, 10.7, 12.1], 0.5)
        >>> round(line.a, 3), round(line.b, 3), round(line.chi2, 3)
        (1.867, 1.757, 1.665)
    """
    us_y, us_x = _spread(u_y, len(y)), _spread(0.0 if u_x is None else u_x, len(x))
    _check(x, y, us_y, us_x)
    if not any(us_x):
        return _weighted(x, y, [1.0 / u for u in us_y])
    return _with_errors_in_x(x, y, us_y, us_x)


def _with_errors_in_x(
    x: Sequence[float], y: Sequence[float], us_y: Sequence[float], us_x: Sequence[float]
) -> Line:
    start = _weighted(x, y, [1.0] * len(x))
    a, b = start.a, start.b
    for _ in range(_MOST_ITERATIONS):
        # t_i: inverse variance of y_i - a - b x_i; x*_i: the point moved onto the line
        t = [1.0 / (uy**2 + (b * ux) ** 2) for uy, ux in zip(us_y, us_x, strict=True)]
        moved = [
            (xi * uy**2 + b * ux**2 * (yi - a)) * ti
            for xi, yi, uy, ux, ti in zip(x, y, us_y, us_x, t, strict=True)
        ]
        rest = [yi - a - b * xi for xi, yi in zip(x, y, strict=True)]
        step = _weighted(moved, rest, [sqrt(ti) for ti in t])
        a, b = a + step.a, b + step.b
        if abs(step.a) <= _SMALL_STEP * step.u_a and abs(step.b) <= _SMALL_STEP * step.u_b:
            chi2 = sum(ti * ri**2 for ti, ri in zip(t, rest, strict=True))
            return Line(a, b, step.u_a, step.u_b, step.cov_ab, chi2, len(x) - 2)
    raise QuantityError(f"no line found through {len(x)} points in {_MOST_ITERATIONS} iterations")


def _weighted(x: Sequence[float], y: Sequence[float], w: Sequence[float]) -> Line:
    """Weighted least squares; w = 1/u(y). About the centroid, which keeps the digits."""
    sum_w2 = sum(wi * wi for wi in w)
    x0 = sum(wi * wi * xi for wi, xi in zip(w, x, strict=True)) / sum_w2
    y0 = sum(wi * wi * yi for wi, yi in zip(w, y, strict=True)) / sum_w2
    sxx = sum((wi * (xi - x0)) ** 2 for wi, xi in zip(w, x, strict=True))
    sxy = sum(wi * wi * (xi - x0) * (yi - y0) for wi, xi, yi in zip(w, x, y, strict=True))
    if sxx <= 0.0:
        raise QuantityError("no line through points that all have the same x")
    b = sxy / sxx
    a = y0 - b * x0
    chi2 = sum((wi * (yi - a - b * xi)) ** 2 for wi, xi, yi in zip(w, x, y, strict=True))
    u_a = sqrt(1.0 / sum_w2 + x0 * x0 / sxx)
    return Line(a, b, u_a, 1.0 / sqrt(sxx), -x0 / sxx, chi2, len(x) - 2)


def chi_squared_tail(chi2: float, dof: int) -> float:
    """Probability that a chi-squared variable of ``dof`` degrees exceeds ``chi2``.

    The finite series for whole degrees of freedom; 1 for dof = 0.

    Source:
        Abramowitz and Stegun, Handbook of Mathematical Functions, 26.4.4 and 26.4.5.
    """
    if dof <= 0:
        return 1.0
    half = max(chi2, 0.0) / 2.0
    if dof % 2 == 0:
        term = total = exp(-half)
        first = 1.0
    else:
        total = erfc(sqrt(half))
        term = 2.0 * exp(-half) * sqrt(half / pi)
        total += term if dof > 1 else 0.0
        first = 1.5
    n_terms = (dof - 2) // 2 if dof % 2 == 0 else (dof - 3) // 2
    for k in range(n_terms):
        term *= half / (first + k)
        total += term
    return min(total, 1.0)


def _spread(u: float | Sequence[float], n: int) -> list[float]:
    return [float(u)] * n if isinstance(u, int | float) else list(u)


def _check(
    x: Sequence[float], y: Sequence[float], us_y: Sequence[float], us_x: Sequence[float]
) -> None:
    n = len(x)
    if n < 2:
        raise QuantityError(f"{n} point, at least 2 needed for a line")
    if not n == len(y) == len(us_y) == len(us_x):
        raise QuantityError(f"{n} x, {len(y)} y, {len(us_y)} u(y), {len(us_x)} u(x): not equal")
    if not all(map(isfinite, (*x, *y, *us_y, *us_x))):
        raise QuantityError("a point or its uncertainty is not finite")
    if any(u < 0.0 for u in (*us_y, *us_x)):
        raise QuantityError("an uncertainty is below 0")
    if any(uy == 0.0 and ux == 0.0 for uy, ux in zip(us_y, us_x, strict=True)):
        raise QuantityError("a point without uncertainty cannot be weighted")
