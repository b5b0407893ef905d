"""Decisions near a limit with an uncertain value: conformance probability and guard bands.

"In the window" is said only when it is so with 95 % probability. For one limit that is the
same as moving the limit by 1.645 u into the window: the guard band. All values and
uncertainties in one unit, errors normal.

Source: JCGM 106:2012, 7.2 to 7.4 (conformance probability) and 8.3 (guarded acceptance).
"""

from functools import lru_cache
from math import erfc, sqrt
from statistics import NormalDist

from drainscale.errors import QuantityError

CONFIDENCE = 0.95


@lru_cache(maxsize=16)
def coverage_factor(probability: float) -> float:
    """One-sided normal quantile: how many u make the probability; 1.645 for 0.95.

    Raises:
        QuantityError: A probability that is not between 0 and 1 (both excluded).
    """
    if not 0.0 < probability < 1.0:
        raise QuantityError(f"probability {probability} is not between 0 and 1")
    return NormalDist().inv_cdf(probability)


def normal_cdf(z: float) -> float:
    """Probability that a standard normal variable is below z; exact far in the tails too."""
    return 0.5 * erfc(-z / sqrt(2.0))


def p_below(limit: float, value: float, u: float) -> float:
    """Probability that the true value is below a limit; sharp (0 or 1) where u is 0.

    Raises:
        QuantityError: An uncertainty below 0.
    """
    if u < 0.0:
        raise QuantityError(f"uncertainty {u} is below 0")
    if u == 0.0:
        return 1.0 if value < limit else 0.0
    return normal_cdf((limit - value) / u)


def p_above(limit: float, value: float, u: float) -> float:
    """Probability that the true value is above a limit; keeps small ones exact."""
    return p_below(-limit, -value, u)


def p_between(lower: float, upper: float, value: float, u: float) -> float:
    """Probability that the true value is inside a window (its conformance probability).

    Taken as 1 minus both tails, or as their difference in one tail, so that no digits are
    lost on either side.

    Source:
        JCGM 106:2012, equation 7.

    Example:
        >>> round(p_between(35.0, 45.0, 43.0, 1.0), 5)
        0.97725
    """
    if value > upper:
        return p_above(lower, value, u) - p_above(upper, value, u) if u > 0.0 else 0.0
    if value < lower:
        return p_below(upper, value, u) - p_below(lower, value, u) if u > 0.0 else 0.0
    return 1.0 - p_below(lower, value, u) - p_above(upper, value, u)


def guarded_lower(limit: float, u: float, probability: float = CONFIDENCE) -> float:
    """Smallest estimate at which the true value is above the limit with this probability."""
    return limit + coverage_factor(probability) * u


def guarded_upper(limit: float, u: float, probability: float = CONFIDENCE) -> float:
    """Largest estimate at which the true value is below the limit with this probability."""
    return limit - coverage_factor(probability) * u


def guarded_window(
    lower: float, upper: float, u: float, probability: float = CONFIDENCE
) -> tuple[float, float] | None:
    """Narrow a window by a guard band at each end; None where nothing is left.

    Each limit alone is kept with the probability. Both at once are nearly as sure in a window
    of many u and less so in a narrow one: ask ``p_between`` for the decision itself.

    Source:
        JCGM 106:2012, 8.3.2.

    Example:
        >>> guarded_window(35.0, 45.0, 1.0, 0.97725)[0] > 36.99
        True
    """
    low, high = guarded_lower(lower, u, probability), guarded_upper(upper, u, probability)
    return (low, high) if low <= high else None
