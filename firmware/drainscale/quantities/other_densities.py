"""Density of fluids that the lubricating-oil table is not made for.

Either the maker gives the expansion (``LinearExpansionDensity``), or the shop has measured the
density at some temperatures (``MeasuredDensity``). Both are ``DensityModel``s, as the fluid of
a product sheet is.
"""

from collections.abc import Sequence
from math import isfinite, sqrt

from drainscale.errors import QuantityError
from drainscale.quantities.straight_line import fit_line


class LinearExpansionDensity:
    """A fluid whose volume grows by the same amount for each kelvin.

    ``rho(t) = rho0 / (1 + beta (t - t0))``

    Args:
        density_kg_per_m3: Density at ``density_C``.
        density_C: Its temperature.
        density_u_kg_per_m3: Its standard uncertainty.
        expansion_per_K: Volume expansion beta at that temperature.
        expansion_u_per_K: Its standard uncertainty.

    Raises:
        QuantityError: A density that is not positive or a number that is not finite.

    Example:
        >>> fluid = LinearExpansionDensity(1000.0, 20.0, 2.0, 0.001, 0.00005)
        >>> round(fluid.density_kg_per_m3(45.0), 3)
        975.61
    """

    warning: str | None = None

    def __init__(
        self,
        density_kg_per_m3: float,
        density_C: float,
        density_u_kg_per_m3: float,
        expansion_per_K: float,
        expansion_u_per_K: float,
    ) -> None:
        given = (density_kg_per_m3, density_C, density_u_kg_per_m3, expansion_per_K)
        if not all(map(isfinite, given)) or density_kg_per_m3 <= 0.0:
            raise QuantityError(f"density {density_kg_per_m3} kg/m3 at {density_C} °C is none")
        self.density_C = density_C
        self.u_given_kg_per_m3 = density_u_kg_per_m3
        self.expansion_u_per_K = expansion_u_per_K
        self._given_kg_per_m3 = density_kg_per_m3
        self._beta = expansion_per_K

    def density_kg_per_m3(self, fluid_C: float) -> float:
        """Density at a temperature, kg/m3."""
        return self._given_kg_per_m3 / self._growth(fluid_C)

    def expansion_per_K(self, fluid_C: float) -> float:
        """Volume expansion at a temperature, -(d rho / dT) / rho, 1/K."""
        return self._beta / self._growth(fluid_C)

    def given_sensitivity(self, fluid_C: float) -> float:
        """Change of the density here for a change of the given density."""
        return 1.0 / self._growth(fluid_C)

    def relative_u_by_expansion(self, fluid_C: float) -> float:
        """Relative standard uncertainty of the density here by the expansion, with sign."""
        return self.expansion_u_per_K * (fluid_C - self.density_C) / self._growth(fluid_C)

    def _growth(self, fluid_C: float) -> float:
        growth = 1.0 + self._beta * (fluid_C - self.density_C)
        if growth <= 0.0:
            raise QuantityError(f"no density at {fluid_C} °C with an expansion of {self._beta}/K")
        return growth


class MeasuredDensity:
    """A fluid whose density the shop measured at two or more temperatures.

    A straight line by weighted least squares; its centroid takes the part of the given density,
    since there the errors of height and slope are independent. Outside the measured
    temperatures the line goes on, with an uncertainty that grows.

    Args:
        points: Pairs of temperature, °C, and density, kg/m3.
        density_u_kg_per_m3: Standard uncertainty of each density (same for all, independent).
        common_u_kg_per_m3: Standard uncertainty that all of them share (the bottle, the scale).

    Raises:
        QuantityError: Fewer than two points or temperatures that are all the same.

    Source:
        ISO/TS 28037:2010, clause 6.

    Example:
        >>> fluid = MeasuredDensity([(15.0, 850.0), (55.0, 824.0)], 0.5)
        >>> round(fluid.density_kg_per_m3(20.0), 3)
        846.75
    """

    warning: str | None = None

    def __init__(
        self,
        points: Sequence[tuple[float, float]],
        density_u_kg_per_m3: float,
        common_u_kg_per_m3: float = 0.0,
    ) -> None:
        if len(points) < 2:
            raise QuantityError(f"{len(points)} measured density, at least 2 needed for a line")
        self.centre_C = sum(t for t, _ in points) / len(points)
        line = fit_line(
            [t - self.centre_C for t, _ in points],
            [rho for _, rho in points],
            density_u_kg_per_m3,
        )
        self.line = line
        self.u_given_kg_per_m3 = sqrt(line.u_a**2 + common_u_kg_per_m3**2)

    def density_kg_per_m3(self, fluid_C: float) -> float:
        """Density at a temperature, kg/m3."""
        return self.line.a + self.line.b * (fluid_C - self.centre_C)

    def expansion_per_K(self, fluid_C: float) -> float:
        """Volume expansion at a temperature, -(d rho / dT) / rho, 1/K."""
        return -self.line.b / self.density_kg_per_m3(fluid_C)

    def given_sensitivity(self, fluid_C: float) -> float:
        """Change of the density here for a change of the centroid's density: a line shifts."""
        del fluid_C
        return 1.0

    def relative_u_by_expansion(self, fluid_C: float) -> float:
        """Relative standard uncertainty of the density here by the slope, with sign."""
        return self.line.u_b * (fluid_C - self.centre_C) / self.density_kg_per_m3(fluid_C)
