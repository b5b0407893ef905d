"""Litres that the next service will take, from what earlier ones of the same model took. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum, isfinite, sqrt

from drainscale_server.planning.student_t import coverage_factor

FEWEST_JOBS = 3  # with two the interval is true and of no use: 6.3 standard deviations at 90 %
COVERAGE = 0.90


@dataclass(frozen=True, slots=True)
class Prediction:
    """Where the next service will lie.

    Attributes:
        mean_L: Mean of the earlier ones.
        low_L, high_L: The interval; low is never below 0.
        jobs: How many it rests on.
        coverage: Probability that the next one lies in it, if it is like the others. It lies
            above ``high_L`` with half of the rest.
    """

    mean_L: float
    low_L: float
    high_L: float
    jobs: int
    coverage: float = COVERAGE


def predict(volumes_L: Sequence[float], coverage: float = COVERAGE) -> Prediction | None:
    """Predict the next value from earlier ones.

    The earlier ones are taken for draws from one normal distribution: vehicles of one model,
    serviced in the same way. The interval is for one further value, so it does not shrink to
    nothing with many jobs.

    Args:
        volumes_L: Earlier ones, L.
        coverage: Probability that the next one lies in the interval.

    Returns:
        The interval; None with fewer than ``FEWEST_JOBS``.

    Raises:
        ValueError: A volume that is not finite, or a coverage outside 0 to 1.

    Source:
        Prediction interval for one further observation: mean ± t(n - 1) s sqrt(1 + 1/n), as in
        ISO 16269-8:2004 (one value, unknown standard deviation), from memory.
    """
    if not all(isfinite(one) for one in volumes_L):
        raise ValueError("a volume is not a finite number")
    n = len(volumes_L)
    if n < FEWEST_JOBS:
        return None
    mean_L = fsum(volumes_L) / n
    s_L = sqrt(fsum((one - mean_L) ** 2 for one in volumes_L) / (n - 1))
    half_L = coverage_factor(coverage, n - 1) * s_L * sqrt(1.0 + 1.0 / n)
    return Prediction(mean_L, max(mean_L - half_L, 0.0), mean_L + half_L, n, coverage)
