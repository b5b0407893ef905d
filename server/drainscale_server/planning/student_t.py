"""Student's t distribution for a whole number of degrees of freedom, in plain floats. Pure."""

from math import atan, cos, inf, pi, sin, sqrt

_HALVINGS = 200  # far beyond what a float can tell apart


def central_probability(t: float, dof: int) -> float:
    """Tell the probability that a t variable lies between -t and t.

    Args:
        t: The limit, 0 or more.
        dof: Degrees of freedom, 1 or more.

    Raises:
        ValueError: ``t`` below 0 or ``dof`` below 1.

    Source:
        Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 26.7.3 (odd) and 26.7.4
        (even), from memory: finite series in the angle atan(t / sqrt(dof)).

    Example:
        >>> round(central_probability(12.706, 1), 4)
        0.95
    """
    if t < 0.0 or dof < 1:
        raise ValueError(f"t {t} must be at least 0 and dof {dof} at least 1")
    angle = atan(t / sqrt(dof))
    is_odd = dof % 2 == 1
    term = cos(angle) if is_odd else 1.0
    total = 0.0
    for i in range(2 if is_odd else 1, dof, 2):
        total += term
        term *= cos(angle) ** 2 * i / (i + 1)
    if is_odd:
        return 2.0 / pi * (angle + sin(angle) * total)
    return sin(angle) * total


def coverage_factor(probability: float, dof: int) -> float:
    """Tell the t that holds a probability between -t and t (two-sided).

    Args:
        probability: Above 0, below 1.
        dof: Degrees of freedom, 1 or more.

    Raises:
        ValueError: Outside of that.

    Example:
        >>> round(coverage_factor(0.95, 10), 3)
        2.228
    """
    if not 0.0 < probability < 1.0:
        raise ValueError(f"probability {probability} must lie between 0 and 1")
    low, high = 0.0, 1.0
    while central_probability(high, dof) < probability:
        low, high = high, 2.0 * high
        if high == inf:
            raise ValueError(f"no t for probability {probability} with {dof} degrees of freedom")
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        if not low < middle < high:
            break
        if central_probability(middle, dof) < probability:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
