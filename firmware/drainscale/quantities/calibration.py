"""Counts of a load cell into kilograms, and what the calibration is worth.

The scale is read piecewise linear between the calibration points and the outer segments go
on beyond them. The result is an *indication*: conventional mass, as the weights have it
(``buoyancy.py`` makes true mass of oil out of it).

What the calibration weights got wrong is common to all readings at the same place of the
scale: it cancels in small differences and grows with the distance between two readings.
``weight_sensitivities`` says how much of each weight's error is in a reading.
"""

from bisect import bisect_right
from itertools import pairwise
from math import hypot, isfinite, sqrt

from drainscale.errors import QuantityError
from drainscale.quantities.job import ScaleSettings


class Calibration:
    """The calibration of one scale, ready to be asked many times a second.

    The counts that the scale gave under the weights have noise of their own. A job file does
    not tell it, so it is not in the uncertainties here; an average of some seconds makes it
    small against the weights (0.1 g of noise a sample is 0.01 g after 100).

    Args:
        settings: Weights, counts and uncertainties. Counts may rise or fall with the load.

    Raises:
        QuantityError: Fewer than two points, lists of unequal length, weights that do not
            rise, counts that are not strictly monotonic, a number that is not finite or an
            uncertainty below zero.

    Example:
        >>> scale = ScaleSettings(20.0, 10.0, (0.0, 5.0), (1000.0, 501000.0), 0.0005, 0.0004)
        >>> round(Calibration(scale).indicated_kg(251000), 6)
        2.5
    """

    def __init__(self, settings: ScaleSettings) -> None:
        _check(settings)
        self.settings = settings
        self._falls = settings.calibration_counts[1] < settings.calibration_counts[0]
        step = -1 if self._falls else 1
        masses, counts = settings.calibration_kg[::step], settings.calibration_counts[::step]
        self._slopes = tuple(
            (masses[i + 1] - masses[i]) / (counts[i + 1] - counts[i])
            for i in range(len(masses) - 1)
        )
        self._starts = tuple(counts[:-1])
        self._bases = tuple(masses[:-1])
        self._inner_counts = tuple(counts[1:-1])
        # without a weight on the platform there is no weight that could be wrong
        self._u_points_kg = tuple(
            0.0 if mass == 0.0 else settings.calibration_u_kg for mass in settings.calibration_kg
        )

    def indicated_kg(self, count: float) -> float:
        """Read the scale: conventional mass for a (filtered) count, kg."""
        i = bisect_right(self._inner_counts, count)
        return self._bases[i] + self._slopes[i] * (count - self._starts[i])

    def count_at(self, indicated_kg: float) -> float:
        """Say which count would be read at this indication (the inverse of ``indicated_kg``)."""
        i = bisect_right(self.settings.calibration_kg[1:-1], indicated_kg)
        low, high = self.settings.calibration_kg[i : i + 2]
        start, stop = self.settings.calibration_counts[i : i + 2]
        return start + (indicated_kg - low) * (stop - start) / (high - low)

    @property
    def count_resolution_kg(self) -> float:
        """What one count is worth, kg, on the least sensitive segment."""
        return max(abs(slope) for slope in self._slopes)

    @property
    def u_points_kg(self) -> tuple[float, ...]:
        """Standard uncertainty of the mass at each calibration point, kg; 0 at an empty one."""
        return self._u_points_kg

    def weight_sensitivities(self, indicated_kg: float) -> tuple[float, ...]:
        """Tell how much of each calibration mass's error is in a reading here.

        The derivative of the piecewise line by the mass of each point, in the points' order:
        the two neighbours share it (barycentric weights, sum 1); beyond the ends the outer
        segment's two points carry it, one of them with the opposite sign.
        """
        points = self.settings.calibration_kg
        i = bisect_right(points[1:-1], indicated_kg)
        share = (indicated_kg - points[i]) / (points[i + 1] - points[i])
        sensitivities = [0.0] * len(points)
        sensitivities[i], sensitivities[i + 1] = 1.0 - share, share
        return tuple(sensitivities)

    def u_weights_kg(self, from_kg: float, to_kg: float) -> float:
        """Standard uncertainty of ``to - from`` by the weights alone, kg.

        Each weight is independent of the others and common to both readings, so a difference
        near nothing has nearly no share of it.
        """
        pairs = zip(
            self.weight_sensitivities(from_kg),
            self.weight_sensitivities(to_kg),
            self._u_points_kg,
            strict=True,
        )
        return sqrt(sum(((there - here) * u) ** 2 for here, there, u in pairs))

    def u_difference_kg(self, a_kg: float, b_kg: float) -> float:
        """Standard uncertainty of the difference of two settled readings, kg.

        The weights' part and the repeatability of both readings (linearity and creep are in
        the latter by the job file's definition), combined as independent.

        Source:
            JCGM 100:2008, 5.1.2 and 5.2.2.
        """
        return hypot(self.u_weights_kg(a_kg, b_kg), sqrt(2.0) * self.settings.repeatability_u_kg)


def _check(settings: ScaleSettings) -> None:
    masses, counts = settings.calibration_kg, settings.calibration_counts
    if len(masses) != len(counts):
        raise QuantityError(f"{len(masses)} calibration masses but {len(counts)} counts")
    if len(masses) < 2:
        raise QuantityError(f"{len(masses)} calibration point, at least 2 needed")
    if not all(map(isfinite, (*masses, *counts))):
        raise QuantityError(f"calibration not finite: {masses} kg at {counts} counts")
    if not all(a < b for a, b in pairwise(masses)):
        raise QuantityError(f"calibration masses {masses} kg do not rise")
    steps = [b - a for a, b in pairwise(counts)]
    if not (all(step > 0 for step in steps) or all(step < 0 for step in steps)):
        raise QuantityError(f"calibration counts {counts} are not strictly monotonic")
    for name in ("calibration_u_kg", "repeatability_u_kg"):
        u = getattr(settings, name)
        if not (isfinite(u) and u >= 0.0):
            raise QuantityError(f"{name} is {u}, must be 0 kg or more")
