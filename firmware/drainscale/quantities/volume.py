"""Volume of weighed fluid with its uncertainty budget, in plain numbers.

    V(t) = m / rho(t),   V(20 °C) = m / rho(20 °C),   m = W (1 - 1.2/8000) / (1 - rho_a/rho(t))

with W the scale's indication, rho_a the air. The sensitivities are written out by hand here;
``result_quantities.py`` gets the same from automatic propagation, keeping correlations between
results. Use this one where a figure is wanted often (the board), that one for the record.
"""

from dataclasses import dataclass

from drainscale.quantities.buoyancy import (
    REFERENCE_AIR_KG_PER_M3,
    REFERENCE_AIR_U_KG_PER_M3,
    buoyancy_factor,
)
from drainscale.quantities.density import REPORT_C, DensityModel
from drainscale.quantities.measured import Measured, Source
from drainscale.quantities.units import ML_PER_L


@dataclass(frozen=True, slots=True)
class Weighed:
    """What went onto (or off) the scale, as it was shown, and how sure that is.

    Indication, not true mass: conventional kilograms. Uncertainties are standard ones.
    """

    indicated_kg: float
    u_weights_kg: float  # Calibration.u_weights_kg of the two readings
    u_repeatability_kg: float  # of the difference: sqrt(2) times that of one reading
    u_unweighed_kg: float = 0.0  # of what was bridged: fell beside, ran while nothing stood there


@dataclass(frozen=True, slots=True)
class Air:
    """The air while the fluid is weighed."""

    kg_per_m3: float = REFERENCE_AIR_KG_PER_M3
    u_kg_per_m3: float = REFERENCE_AIR_U_KG_PER_M3


REFERENCE_AIR = Air()


def true_mass_kg(
    weighed: Weighed,
    fluid: DensityModel,
    fluid_C: float,
    u_fluid_C: float,
    air: Air = REFERENCE_AIR,
) -> Measured:
    """True mass of the fluid, kg, air buoyancy removed."""
    density = fluid.density_kg_per_m3(fluid_C)
    per_kg = buoyancy_factor(density, air_kg_per_m3=air.kg_per_m3)
    by_density = -air.kg_per_m3 / (density - air.kg_per_m3)
    return _budget(per_kg, (by_density, 0.0), weighed, fluid, (fluid_C, u_fluid_C), air)


def volume_at_fluid_L(
    weighed: Weighed,
    fluid: DensityModel,
    fluid_C: float,
    u_fluid_C: float,
    air: Air = REFERENCE_AIR,
) -> Measured:
    """Volume at the fluid's temperature, L.

    Args:
        weighed: Indicated mass of the fluid and its uncertainties.
        fluid: How dense it is at which temperature.
        fluid_C: Its temperature when it was there as a volume: when it ran out.
        u_fluid_C: Standard uncertainty of that, K.
        air: Air density.

    Raises:
        QuantityError: A fluid that is not denser than air.

    Source:
        JCGM 100:2008, 5.1; the model is W (1 - 1.2/8000) / (rho - rho_a).

    Example:
        >>> from drainscale.quantities.density import FluidDensity
        >>> from drainscale.quantities.job import FluidSheet
        >>> oil = FluidDensity(FluidSheet(848.0, 15.0, 2.0), u_expansion_relative=0.0)
        >>> v = volume_at_fluid_L(Weighed(3.4, 0.0, 0.004), oil, 62.0, 1.5, Air(1.2, 0.0))
        >>> round(v.value, 4), round(v.u, 4)
        (4.1609, 0.0123)
    """
    density = fluid.density_kg_per_m3(fluid_C)
    per_kg = buoyancy_factor(density, air_kg_per_m3=air.kg_per_m3) / density * ML_PER_L
    by_density = -density / (density - air.kg_per_m3)
    return _budget(per_kg, (by_density, 0.0), weighed, fluid, (fluid_C, u_fluid_C), air)


def volume_at_20C_L(
    weighed: Weighed,
    fluid: DensityModel,
    fluid_C: float,
    u_fluid_C: float,
    air: Air = REFERENCE_AIR,
) -> Measured:
    """Volume at 20 °C, L; the fluid's own temperature acts on the buoyancy only."""
    density = fluid.density_kg_per_m3(fluid_C)
    buoyancy = buoyancy_factor(density, air_kg_per_m3=air.kg_per_m3)
    per_kg = buoyancy / fluid.density_kg_per_m3(REPORT_C) * ML_PER_L
    by_density = -air.kg_per_m3 / (density - air.kg_per_m3)
    return _budget(per_kg, (by_density, -1.0), weighed, fluid, (fluid_C, u_fluid_C), air)


def _budget(
    per_kg: float,
    powers: tuple[float, float],
    weighed: Weighed,
    fluid: DensityModel,
    temperature: tuple[float, float],
    air: Air,
) -> Measured:
    """Form the budget of a result that is ``per_kg`` times the indication.

    ``powers`` are d ln(result) / d ln(rho) at the fluid's temperature and at 20 °C;
    ``temperature`` is the fluid's, with its standard uncertainty.
    """
    value = per_kg * weighed.indicated_kg
    (at_fluid, at_20), (fluid_C, u_fluid_C) = powers, temperature
    here, there = fluid.density_kg_per_m3(fluid_C), fluid.density_kg_per_m3(REPORT_C)
    by_given = at_fluid * fluid.given_sensitivity(fluid_C) / here
    by_given += at_20 * fluid.given_sensitivity(REPORT_C) / there
    by_expansion = at_fluid * fluid.relative_u_by_expansion(fluid_C)
    by_expansion += at_20 * fluid.relative_u_by_expansion(REPORT_C)
    components: list[tuple[Source, float]] = [
        ("calibration weights", per_kg * weighed.u_weights_kg),
        ("repeatability", per_kg * weighed.u_repeatability_kg),
        ("unweighed fluid", per_kg * weighed.u_unweighed_kg),
        ("density of the fluid", value * by_given * fluid.u_given_kg_per_m3),
        ("expansion of the fluid", value * by_expansion),
        ("fluid temperature", value * at_fluid * fluid.expansion_per_K(fluid_C) * u_fluid_C),
        ("air buoyancy", value * air.u_kg_per_m3 / (here - air.kg_per_m3)),
    ]
    return Measured.of_components(value, components)
