"""Thermal volume correction by API MPMS 11.1-2004, base 60 °F: the present standard's form.

The kit calculates with the metric table form of 1980 (``density.py``), which is what a shop can
follow by hand. This module is the other way to the same answer, with the temperature scale of
1968 that the coefficients belong to: a check on the first, which it meets within 7e-6 from -10
to 110 °C. No pressure correction: all happens at ambient pressure. Results are not rounded (the
standard rounds the final factor to five decimals).

    rho*    = rho60 moved to the 60 °F of IPTS-68
    alpha60 = K0 / rho*² + K1 / rho* + K2
    CTL     = exp(-alpha60 dT (1 + 0.8 alpha60 (dT + delta60))),   dT = t68 - 60.0068749 °F
"""

from dataclasses import dataclass
from math import exp

from drainscale.quantities.units import celsius_to_fahrenheit, fahrenheit_to_celsius

# API MPMS 11.1-2004, 11.1.5.3: ITS-90 to IPTS-68
_A = (
    -0.148759, -0.267408, 1.080760, 1.269056, -4.089591, -1.871251, 7.438081, -3.536296,
)  # fmt: skip
DELTA60_F = 0.01374979547  # shift of the 60 °F base point between the scales, twice the offset
BASE_68_F = 60.0068749  # 60 °F of ITS-90 on IPTS-68


@dataclass(frozen=True, slots=True)
class ProductGroup:
    """Coefficients of one commodity group, densities in kg/m3, per °F."""

    K0: float
    K1: float
    K2: float


# API MPMS 11.1-2004, table of commodity groups
CRUDE_OIL = ProductGroup(341.0957, 0.0, 0.0)
FUEL_OIL = ProductGroup(103.872, 0.2701, 0.0)
JET_FUEL = ProductGroup(330.301, 0.0, 0.0)
GASOLINE = ProductGroup(192.4571, 0.2438, 0.0)
LUBRICATING_OIL = ProductGroup(0.0, 0.34878, 0.0)


def to_ipts68_F(t90_F: float) -> float:
    """Move a temperature from ITS-90 to IPTS-68, both in °F.

    Source:
        API MPMS 11.1-2004, 11.1.5.3.
    """
    t90_C = fahrenheit_to_celsius(t90_F)
    tau = t90_C / 630.0
    shift = 0.0
    for a in reversed(_A):
        shift = (shift + a) * tau
    return celsius_to_fahrenheit(t90_C - shift)


def shifted_base_density(rho60_kg_per_m3: float, group: ProductGroup) -> float:
    """Base density rho* at the 60 °F of IPTS-68.

    Source:
        API MPMS 11.1-2004, 11.1.6.1, step 3.
    """
    rho = rho60_kg_per_m3
    alpha = (group.K0 / rho + group.K1) / rho + group.K2
    a = DELTA60_F / 2.0 * alpha
    b = (2.0 * group.K0 + group.K1 * rho) / (group.K0 + (group.K1 + group.K2 * rho) * rho)
    return rho * (1.0 + (exp(a * (1.0 + 0.8 * a)) - 1.0) / (1.0 + a * (1.0 + 1.6 * a) * b))


def alpha60_per_F(shifted_kg_per_m3: float, group: ProductGroup) -> float:
    """Thermal expansion at 60 °F for a shifted base density, 1/°F."""
    return (group.K0 / shifted_kg_per_m3 + group.K1) / shifted_kg_per_m3 + group.K2


def ctl_60F(rho60_kg_per_m3: float, t90_F: float, group: ProductGroup = LUBRICATING_OIL) -> float:
    """Correction for the temperature of a liquid, volume at 60 °F over volume at ``t90_F``.

    Source:
        API MPMS 11.1-2004, 11.1.6.1, steps 3 to 5.

    Example:
        >>> round(ctl_60F(850.0, 104.0), 8)
        0.98184663
    """
    alpha = alpha60_per_F(shifted_base_density(rho60_kg_per_m3, group), group)
    dT = to_ipts68_F(t90_F) - BASE_68_F
    return exp(-alpha * dT * (1.0 + 0.8 * alpha * (dT + DELTA60_F)))


def vcf_base_15C(
    rho15_kg_per_m3: float, fluid_C: float, group: ProductGroup = LUBRICATING_OIL
) -> float:
    """rho(t) / rho(15 °C) by the 60 °F route, for a density given at 15 °C.

    The density at 60 °F that gives rho15 at 59 °F is found first (fixed point; half a degree
    away, so it settles at once).
    """
    rho60 = rho15_kg_per_m3
    for _ in range(10):
        rho60 = rho15_kg_per_m3 / ctl_60F(rho60, 59.0, group)
    t_F = celsius_to_fahrenheit(fluid_C)
    return ctl_60F(rho60, t_F, group) / ctl_60F(rho60, 59.0, group)
