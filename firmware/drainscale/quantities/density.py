"""Density of the fluid at any temperature.

The route of API MPMS 11.1 / ASTM D1250 for lubricating oils in its metric form (table 54D):
from the density at 15 °C alone follows how much the oil expands. The product sheet's density
need not be at 15 °C: the base density is the one that gives it back.

    alpha15 = 0.6278 / rho15        (1/K, rho15 in kg/m3)
    VCF(t)  = exp(-alpha15 dT (1 + 0.8 alpha15 dT)),   dT = t - 15 °C
    rho(t)  = rho15 VCF(t)

The table is for mean lubricating stocks. A transmission fluid has its own expansion, which no
sheet tells: ``EXPANSION_U_RELATIVE`` is what that is worth. Fluids outside the table come with
their expansion or with measured points: see ``other_densities.py``.
"""

from math import exp, isfinite
from typing import Protocol

from drainscale.errors import QuantityError
from drainscale.quantities.job import FluidSheet
from drainscale.quantities.units import fahrenheit_to_celsius

# ASTM D1250-80 table 54D, lubricating oils: 1.8 times the customary 0.34878 (kg/m3)/°F, rounded
# as the metric table has it. The customary one with °C gives half the expansion.
K1_KG_PER_M3_PER_K = 0.6278
BASE_C = 15.0
REPORT_C = 20.0

# API MPMS 11.1-2004: base densities for which the lubricating-oil group is made
TABLE_60F_KG_PER_M3 = (800.9, 1163.5)
# API MPMS 11.1-2004: -58 to 302 °F
TABLE_C = (-50.0, 150.0)

# Relative standard uncertainty of the expansion itself, for a fluid that is not the table's mean
# oil. Three heat-transfer oils of the same viscosity grade expand 0.5, 1.7 and 4 % more between
# 15 and 100 °C (see the tests); their root mean square is 2.5 %.
EXPANSION_U_RELATIVE = 0.03


class DensityModel(Protocol):
    """What a volume needs to know of a fluid, whoever says how it expands."""

    @property
    def u_given_kg_per_m3(self) -> float:
        """Standard uncertainty of the given density, kg/m3."""

    @property
    def warning(self) -> str | None:
        """Why the density is less sure than it looks, in a line for people; or None."""

    def density_kg_per_m3(self, fluid_C: float) -> float:
        """Density at a temperature, kg/m3."""

    def expansion_per_K(self, fluid_C: float) -> float:
        """Volume expansion at a temperature, -(d rho / dT) / rho, 1/K."""

    def given_sensitivity(self, fluid_C: float) -> float:
        """Change of the density here for a change of the given density, (kg/m3)/(kg/m3)."""

    def relative_u_by_expansion(self, fluid_C: float) -> float:
        """Relative standard uncertainty of the density here for an expansion not well known.

        With a sign, as it has one cause: the densities on both sides of the temperature at
        which density was given are wrong in opposite directions.
        """


def vcf_54d(rho15_kg_per_m3: float, fluid_C: float) -> float:
    """Volume correction factor of a lubricating oil, rho(t) / rho(15 °C).

    Source:
        ASTM D1250-80 / API MPMS 11.1 (1980), table 54D: K0 = 0, K1 = 0.6278.

    Example:
        >>> round(vcf_54d(850.0, 40.0), 6)
        0.981437
    """
    x = K1_KG_PER_M3_PER_K / rho15_kg_per_m3 * (fluid_C - BASE_C)
    return exp(-x * (1.0 + 0.8 * x))


def base_density_kg_per_m3(density_kg_per_m3: float, density_C: float) -> float:
    """Find the density at 15 °C that gives a density at another temperature.

    Newton's method: rho15 VCF is so nearly proportional to rho15 that four steps reach the
    last digit anywhere in 600 to 1200 kg/m3 and -20 to 110 °C.

    Raises:
        QuantityError: A density that is not positive, or no base density found.
    """
    if not (isfinite(density_kg_per_m3) and density_kg_per_m3 > 0.0 and isfinite(density_C)):
        raise QuantityError(f"density {density_kg_per_m3} kg/m3 at {density_C} °C is none")
    rho15 = density_kg_per_m3
    for _ in range(20):
        slope = vcf_54d(rho15, density_C) * _base_sensitivity(rho15, density_C)
        if slope <= 0.0:
            break
        step = (rho15 * vcf_54d(rho15, density_C) - density_kg_per_m3) / slope
        rho15 -= step
        if abs(step) < 1e-12 * density_kg_per_m3:
            return rho15
    raise QuantityError(
        f"no density at 15 °C gives {density_kg_per_m3} kg/m3 at {density_C} °C (table 54D)"
    )


def _base_sensitivity(rho15_kg_per_m3: float, fluid_C: float) -> float:
    """Relative change of rho(t) for a relative change of rho15."""
    x = K1_KG_PER_M3_PER_K / rho15_kg_per_m3 * (fluid_C - BASE_C)
    return 1.0 + x * (1.0 + 1.6 * x)


class FluidDensity:
    """Density of the fluid of a product sheet, by table 54D.

    Args:
        sheet: Density, its temperature and standard uncertainty.
        u_expansion_relative: Relative standard uncertainty of the expansion.

    Raises:
        QuantityError: No base density fits the sheet.

    Example:
        >>> fluid = FluidDensity(FluidSheet(850.0, 15.0, 1.5))
        >>> round(fluid.density_kg_per_m3(40.0), 4)
        834.2214
        >>> fluid.is_within_table
        True
    """

    def __init__(
        self, sheet: FluidSheet, *, u_expansion_relative: float = EXPANSION_U_RELATIVE
    ) -> None:
        self.sheet = sheet
        self.rho15_kg_per_m3 = base_density_kg_per_m3(sheet.density_kg_per_m3, sheet.density_C)
        self.u_given_kg_per_m3 = sheet.density_u_kg_per_m3
        self.u_expansion_relative = u_expansion_relative
        self._alpha = K1_KG_PER_M3_PER_K / self.rho15_kg_per_m3
        self._sheet_log = self._log_vcf(sheet.density_C)
        # d rho_sheet / d rho15
        self._sheet_slope = exp(self._sheet_log) * _base_sensitivity(
            self.rho15_kg_per_m3, sheet.density_C
        )
        self.rho20_kg_per_m3 = self.density_kg_per_m3(REPORT_C)

    def _log_vcf(self, fluid_C: float) -> float:
        x = self._alpha * (fluid_C - BASE_C)
        return -x * (1.0 + 0.8 * x)

    @property
    def is_within_table(self) -> bool:
        """Whether the base density is one that the table is made for (800.9 to 1163.5 kg/m3).

        Outside it the same formula is carried on, which is a guess of the expansion: say so.
        """
        low, high = TABLE_60F_KG_PER_M3
        return low <= self.density_kg_per_m3(fahrenheit_to_celsius(60.0)) <= high

    @property
    def warning(self) -> str | None:
        """A line for people if the fluid is outside the table, else None."""
        if self.is_within_table:
            return None
        low, high = TABLE_60F_KG_PER_M3
        return (
            f"density {self.sheet.density_kg_per_m3:g} kg/m3 at {self.sheet.density_C:g} °C is "
            f"outside the lubricating-oil table ({low:g} to {high:g} kg/m3 at 60 °F): its "
            "expansion is a guess; give the fluid's own expansion or measured points"
        )

    def is_within_table_at(self, fluid_C: float) -> bool:
        """Whether density and temperature both are inside the table (-50 to 150 °C)."""
        return self.is_within_table and TABLE_C[0] <= fluid_C <= TABLE_C[1]

    def vcf_15(self, fluid_C: float) -> float:
        """Volume at 15 °C for one litre at ``fluid_C``: rho(t) / rho(15 °C)."""
        return exp(self._log_vcf(fluid_C))

    def density_kg_per_m3(self, fluid_C: float) -> float:
        """Density at a temperature, kg/m3."""
        x = self._alpha * (fluid_C - BASE_C)
        return self.rho15_kg_per_m3 * exp(-x * (1.0 + 0.8 * x))

    def volume_at_20C_L(self, volume_L: float, fluid_C: float) -> float:
        """Volume at 20 °C of what is ``volume_L`` at ``fluid_C``, in litres."""
        return volume_L * self.density_kg_per_m3(fluid_C) / self.rho20_kg_per_m3

    def volume_from_20C_L(self, volume_20C_L: float, fluid_C: float) -> float:
        """Volume at ``fluid_C`` of what is ``volume_20C_L`` at 20 °C, in litres."""
        return volume_20C_L * self.rho20_kg_per_m3 / self.density_kg_per_m3(fluid_C)

    def expansion_per_K(self, fluid_C: float) -> float:
        """Volume expansion at a temperature, -(d rho / dT) / rho, 1/K."""
        return self._alpha * (1.0 + 1.6 * self._alpha * (fluid_C - BASE_C))

    def temperature_sensitivity(self, fluid_C: float) -> float:
        """Change of the density with temperature, d rho / dT, (kg/m3)/K; negative."""
        return -self.density_kg_per_m3(fluid_C) * self.expansion_per_K(fluid_C)

    def given_sensitivity(self, fluid_C: float) -> float:
        """Change of the density here for a change of the sheet's density; near 1."""
        here = self.vcf_15(fluid_C) * _base_sensitivity(self.rho15_kg_per_m3, fluid_C)
        return here / self._sheet_slope

    def relative_u_by_expansion(self, fluid_C: float) -> float:
        """Relative standard uncertainty of the density here by the expansion, with sign.

        The share ``u_expansion_relative`` of the expansion from the sheet's temperature, so
        nothing at the sheet's temperature itself.
        """
        return self.u_expansion_relative * (self._sheet_log - self._log_vcf(fluid_C))
