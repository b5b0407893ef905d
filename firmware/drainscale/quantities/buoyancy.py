"""Air buoyancy: from what a scale shows to the true mass of oil.

A scale adjusted with steel weights shows conventional mass. Oil is ten times less dense than
steel, so air lifts it more, and 850 kg/m3 oil shows 0.126 % too little. On 6 L that is 8 mL;
it is corrected, and what stays unsure is how dense the air was.

Symbols: rho_a density of the air, rho density of the oil, W indication, m true mass:
``m = W (1 - 1.2/8000) / (1 - rho_a/rho)``.
"""

from math import exp, isfinite

from drainscale.errors import QuantityError

# OIML D 28: conventional mass is defined for weights of 8000 kg/m3 in air of 1.2 kg/m3
WEIGHTS_KG_PER_M3 = 8000.0
REFERENCE_AIR_KG_PER_M3 = 1.2
# a workshop near sea level between 10 and 30 °C has 1.12 to 1.27 (air_density_kg_per_m3 below);
# one at 1500 m has 1.0 kg/m3, for which the correction made here is 0.02 % too large
REFERENCE_AIR_U_KG_PER_M3 = 0.03


def buoyancy_factor(
    fluid_kg_per_m3: float,
    *,
    air_kg_per_m3: float = REFERENCE_AIR_KG_PER_M3,
    air_at_calibration_kg_per_m3: float = REFERENCE_AIR_KG_PER_M3,
) -> float:
    """True mass of a fluid divided by what the scale shows.

    Args:
        fluid_kg_per_m3: Density of the fluid at its own temperature.
        air_kg_per_m3: Density of the air while the fluid is weighed.
        air_at_calibration_kg_per_m3: Density of the air when the weights stood there.

    Raises:
        QuantityError: A fluid that is not denser than air, or a number that is not finite.

    Source:
        OIML D 28 (conventional mass); equilibrium of the forces on both.

    Example:
        >>> round(buoyancy_factor(850.0), 8)
        1.00126355
    """
    if not (isfinite(fluid_kg_per_m3) and 0.0 <= air_kg_per_m3 < fluid_kg_per_m3):
        raise QuantityError(
            f"fluid of {fluid_kg_per_m3} kg/m3 in air of {air_kg_per_m3} kg/m3 cannot be weighed"
        )
    lift_on_weights = air_at_calibration_kg_per_m3 / WEIGHTS_KG_PER_M3
    return (1.0 - lift_on_weights) / (1.0 - air_kg_per_m3 / fluid_kg_per_m3)


def true_mass_kg(indicated_kg: float, fluid_kg_per_m3: float) -> float:
    """True mass of a fluid that the scale shows as ``indicated_kg``, in reference air."""
    return indicated_kg * buoyancy_factor(fluid_kg_per_m3)


def indicated_mass_kg(true_kg: float, fluid_kg_per_m3: float) -> float:
    """What the scale shows for a true mass of fluid (the inverse of ``true_mass_kg``)."""
    return true_kg / buoyancy_factor(fluid_kg_per_m3)


def u_relative_buoyancy(
    fluid_kg_per_m3: float,
    *,
    u_fluid_kg_per_m3: float = 0.0,
    u_air_kg_per_m3: float = REFERENCE_AIR_U_KG_PER_M3,
) -> float:
    """Relative standard uncertainty of the factor, in reference air.

    With r = rho_a/rho: d ln f / d rho_a = 1 / (rho - rho_a) and
    d ln f / d rho = -r / (rho - rho_a). For oil and 0.03 kg/m3 that is 0.0035 %.

    Source:
        JCGM 100:2008, 5.1.2.
    """
    over_air = fluid_kg_per_m3 - REFERENCE_AIR_KG_PER_M3
    by_air = u_air_kg_per_m3 / over_air
    by_fluid = u_fluid_kg_per_m3 * REFERENCE_AIR_KG_PER_M3 / (fluid_kg_per_m3 * over_air)
    return float((by_air**2 + by_fluid**2) ** 0.5)


def air_density_kg_per_m3(air_C: float, pressure_hPa: float, humidity_percent: float) -> float:
    """Density of moist air by the approximation of OIML R 111.

    Within 3e-4 of CIPM-2007 for 10 to 30 °C, 900 to 1100 hPa and up to 80 % relative humidity.

    Source:
        OIML R 111-1:2004, annex E.3, from memory; checked against CIPM-2007 in the tests.
    """
    vapour = 0.009 * humidity_percent * exp(0.061 * air_C)
    return (0.34848 * pressure_hPa - vapour) / (273.15 + air_C)
