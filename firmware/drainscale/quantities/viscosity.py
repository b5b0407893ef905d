"""Kinematic viscosity of the fluid at any temperature, from the sheet's 40 and 100 °C values.

ASTM D341 (Walther's equation): log10 log10 Z = A - B log10 T, T in kelvin, and
Z = nu + 0.7 + exp(-1.47 - 1.84 nu - 0.51 nu²), nu in mm2/s; the last term is below 0.001 from
2 mm2/s up and keeps thin fluids right. Good for oils between pour point and some 150 °C; below
about 0 °C a transmission fluid thickens more than the equation says (common practice, no
source).
"""

from math import exp, isfinite, log10

from drainscale.errors import QuantityError
from drainscale.quantities.job import FluidSheet
from drainscale.quantities.units import ZERO_C_IN_K

SHEET_LOW_C, SHEET_HIGH_C = 40.0, 100.0
_SOLID_LOG_Z = 100.0  # keeps a sheet with a typing error from overflowing when it is cold


class FluidViscosity:
    """Viscosity of the fluid of a product sheet.

    Args:
        viscosity_40C_mm2_per_s: Kinematic viscosity at 40 °C.
        viscosity_100C_mm2_per_s: At 100 °C; lower than at 40 °C.
        kelvin_offset: What is added to °C; older worked examples use 273.

    Raises:
        QuantityError: A viscosity of 0.21 mm2/s or less, or one that does not fall.

    Source:
        ASTM D341-09 and later, equations 1 and 2; coefficients as in public implementations.

    Example:
        >>> fluid = FluidViscosity(34.0, 7.4)
        >>> round(fluid.viscosity_mm2_per_s(60.0), 2)
        18.28
    """

    def __init__(
        self,
        viscosity_40C_mm2_per_s: float,
        viscosity_100C_mm2_per_s: float,
        *,
        kelvin_offset: float = ZERO_C_IN_K,
    ) -> None:
        _check(viscosity_40C_mm2_per_s, viscosity_100C_mm2_per_s)
        self._offset = kelvin_offset
        thick = log10(log10(_z(viscosity_40C_mm2_per_s)))
        thin = log10(log10(_z(viscosity_100C_mm2_per_s)))
        low, high = (log10(t + kelvin_offset) for t in (SHEET_LOW_C, SHEET_HIGH_C))
        self.B = (thick - thin) / (high - low)
        self.A = thick + self.B * low

    @classmethod
    def of(cls, sheet: FluidSheet) -> "FluidViscosity | None":
        """Take the viscosities of a sheet; None where it gives none."""
        if sheet.viscosity_40C_mm2_per_s is None or sheet.viscosity_100C_mm2_per_s is None:
            return None
        return cls(sheet.viscosity_40C_mm2_per_s, sheet.viscosity_100C_mm2_per_s)

    def viscosity_mm2_per_s(self, fluid_C: float) -> float:
        """Kinematic viscosity at a temperature, mm2/s."""
        log_z = 10.0 ** (self.A - self.B * log10(fluid_C + self._offset))
        return _nu(10.0 ** min(log_z, _SOLID_LOG_Z))


def _z(nu: float) -> float:
    return nu + 0.7 + exp(-1.47 - 1.84 * nu - 0.51 * nu * nu)


def _nu(z: float) -> float:
    """Undo ``_z`` by Newton's method.

    The standard prints a polynomial for this that is good to some 1e-3; the exact inverse gives
    the sheet's values back to the last digit.
    """
    nu = max(z - 0.7, 0.0)
    for _ in range(50):
        tail = exp(-1.47 - 1.84 * nu - 0.51 * nu * nu)
        step = (nu + 0.7 + tail - z) / (1.0 - (1.84 + 1.02 * nu) * tail)
        nu -= step
        if abs(step) < 1e-13 * (1.0 + nu):
            break
    return nu


def _check(at_40: float, at_100: float) -> None:
    if not (isfinite(at_40) and isfinite(at_100)):
        raise QuantityError(f"viscosities {at_40} and {at_100} mm2/s are not finite")
    if at_100 <= 0.21:
        raise QuantityError(f"viscosity {at_100} mm2/s is below what ASTM D341 is made for (0.21)")
    if at_40 <= at_100:
        raise QuantityError(f"viscosity does not fall: {at_40} at 40 °C, {at_100} at 100 °C")
