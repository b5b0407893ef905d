"""Whether a scale's calibration points lie on one straight line, and how far they are off.

A healthy cell is linear to some hundredths of a percent, and the kit reads piecewise linear
anyway, so a bend costs no accuracy at the points. A bend that the uncertainties cannot explain
says something else: a wrong weight, a typing error, a platform that touches its frame.
"""

from dataclasses import dataclass

from drainscale.quantities.job import ScaleSettings
from drainscale.quantities.straight_line import Line, fit_line


@dataclass(frozen=True, slots=True)
class Linearity:
    """The line of counts over mass and the points' distance from it."""

    line: Line  # counts over kg
    deviations_kg: tuple[float, ...]  # of each point, indication minus line

    @property
    def largest_deviation_kg(self) -> float:
        """Largest distance of a calibration point from the line, kg, without sign."""
        return max(abs(d) for d in self.deviations_kg)

    @property
    def is_tested(self) -> bool:
        """Whether there are three points or more: two always lie on a line."""
        return self.line.dof > 0

    @property
    def is_linear(self) -> bool:
        """Whether the points do not speak against a line at the 5 % level."""
        return self.line.is_consistent


def check_linearity(settings: ScaleSettings) -> Linearity:
    """Fit one line through all calibration points by ISO/TS 28037 and say how it fits.

    u(x) is that of the weights (none where the platform was empty), u(y) the repeatability of
    a settled reading, in counts.

    Args:
        settings: A scale with two or more calibration points and a repeatability above 0.

    Raises:
        QuantityError: No line can be fitted, or a point has no uncertainty at all.

    Source:
        ISO/TS 28037:2010, clause 7; consistency by the chi-squared test of 6.3 and 7.4.
    """
    masses, counts = settings.calibration_kg, settings.calibration_counts
    counts_per_kg = (counts[-1] - counts[0]) / (masses[-1] - masses[0])
    line = fit_line(
        masses,
        counts,
        settings.repeatability_u_kg * abs(counts_per_kg),
        [0.0 if mass == 0.0 else settings.calibration_u_kg for mass in masses],
    )
    deviations = tuple(
        (count - line.a) / line.b - mass for mass, count in zip(masses, counts, strict=True)
    )
    return Linearity(line, deviations)
