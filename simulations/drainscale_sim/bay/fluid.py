"""The fluid as it is: density, expansion and viscosity, which the sheet tells only roughly."""

from dataclasses import dataclass
from functools import cached_property
from math import exp, log10

_KELVIN = 273.15


@dataclass(frozen=True)
class Fluid:
    """One transmission fluid.

    Args:
        rho15_kg_per_m3: Density at 15 °C.
        nu40_mm2_per_s: Kinematic viscosity at 40 °C.
        nu100_mm2_per_s: Kinematic viscosity at 100 °C; lower than at 40 °C.
        stretch: Its expansion, divided by that of the table's mean oil. A fluid is not the
            mean oil; some per cent either way are common.

    Source:
        Density: form of ASTM D1250-80, table 54D, exp(-x (1 + 0.8 x)).
        Viscosity: Walther's equation, log log (nu + 0.7) = A - B log T (ASTM D341).
    """

    rho15_kg_per_m3: float
    nu40_mm2_per_s: float
    nu100_mm2_per_s: float
    stretch: float = 1.0

    def density_kg_per_m3(self, fluid_C: float) -> float:
        """Density at a temperature, kg/m3."""
        x = 0.6278 / self.rho15_kg_per_m3 * self.stretch * (fluid_C - 15.0)
        return self.rho15_kg_per_m3 * exp(-x * (1.0 + 0.8 * x))

    def volume_20C_L(self, mass_kg: float) -> float:
        """Volume of a mass at 20 °C, L."""
        return mass_kg / self.density_kg_per_m3(20.0) * 1000.0

    @cached_property
    def _walther(self) -> tuple[float, float]:
        thick = log10(log10(self.nu40_mm2_per_s + 0.7))
        thin = log10(log10(self.nu100_mm2_per_s + 0.7))
        low, high = log10(40.0 + _KELVIN), log10(100.0 + _KELVIN)
        slope = (thick - thin) / (high - low)
        return thick + slope * low, slope

    def nu_m2_per_s(self, fluid_C: float) -> float:
        """Kinematic viscosity at a temperature, m2/s."""
        a, slope = self._walther
        loglog = min(a - slope * log10(fluid_C + _KELVIN), 0.9)
        return float(10.0 ** (10.0**loglog) - 0.7) * 1e-6
