"""Straight lines through half-second bins whose segments share a slope, not a level."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, sqrt
from operator import mul


@dataclass(slots=True)
class Bin:
    """Mean of the trusted readings of half a second."""

    segment: int
    t: float
    kg: float
    sigma_kg: float  # of the mean


class Levels:
    """The readings of some bins, ready for a straight line against any abscissa.

    Weighted least squares, the level eliminated a segment at a time. What does not depend on
    the abscissa is worked out once: eight powers are tried on up to three hundred bins every
    two seconds.

    Source:
        JCGM 100:2008, H.3; analysis of covariance with a common slope.
    """

    def __init__(self, bins: Sequence[Bin]) -> None:
        self._weights = [1.0 / one.sigma_kg**2 for one in bins]
        if bins[0].segment == bins[-1].segment:  # the common case: segments never go back
            self._segments: list[int] | None = None
            self._totals = [sum(self._weights)]
        else:
            places: dict[int, int] = {}
            self._segments = [places.setdefault(one.segment, len(places)) for one in bins]
            self._totals = [0.0] * len(places)
            for i, w in zip(self._segments, self._weights, strict=True):
                self._totals[i] += w
        self._kg = [one.kg for one in bins]

    def _away(self, values: list[float]) -> list[float]:
        """The values, less the weighted mean of their segment."""
        weights, totals = self._weights, self._totals
        if self._segments is None:
            only = sum(map(mul, weights, values)) / totals[0]
            return [value - only for value in values]
        sums = [0.0] * len(totals)
        for i, w, value in zip(self._segments, weights, values, strict=True):
            sums[i] += w * value
        means = [one / total for one, total in zip(sums, totals, strict=True)]
        return [value - means[i] for value, i in zip(values, self._segments, strict=True)]

    def straight(self, moved: list[float]) -> tuple[float, float, float]:
        """Least squares against ``moved``: slope, its u, and what it takes from chi-square.

        Where all of a segment is at one abscissa nothing is known: slope 0 with an infinite u.
        """
        away = self._away(moved)
        by_x = list(map(mul, self._weights, away))
        # the abscissas' weighted sum is 0 in each segment: the readings' means drop out
        sxx, sxy = sum(map(mul, by_x, away)), sum(map(mul, by_x, self._kg))
        if sxx <= 0.0:
            return 0.0, inf, 0.0
        slope = sxy / sxx
        return slope, 1.0 / sqrt(sxx), slope * sxy
