"""Air buoyancy against closed forms of OIML D 28, air density against CIPM-2007."""

import tomllib
from math import exp, nan
from pathlib import Path

import pytest
from GTC import ureal
from hypothesis import given
from hypothesis import strategies as st

from drainscale.errors import QuantityError
from drainscale.quantities.buoyancy import (
    air_density_kg_per_m3,
    buoyancy_factor,
    indicated_mass_kg,
    true_mass_kg,
    u_relative_buoyancy,
)

CHECKS = tomllib.loads(
    (Path(__file__).parents[2] / "data" / "check_values.toml").read_text("utf-8")
)
PASCALS_PER_MMHG = 133.322387415


def cipm_2007_kg_per_m3(air_C: float, pressure_Pa: float, humidity: float) -> float:
    """Density of moist air with 0.0004 CO2.

    Picard, Davis, Glaeser and Fujii, Metrologia 45 (2008) 149; coefficients from memory, held
    against two printed values below.
    """
    t, kelvin = air_C, air_C + 273.15
    saturation = exp(
        1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6343.1645 / kelvin
    )
    enhancement = 1.00062 + 3.14e-8 * pressure_Pa + 5.6e-7 * t**2
    x = humidity * enhancement * saturation / pressure_Pa
    first = 1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t**2
    first += (5.707e-6 - 2.051e-8 * t) * x + (1.9898e-4 - 2.376e-6 * t) * x**2
    ratio = pressure_Pa / kelvin
    compressibility = 1.0 - ratio * first + ratio**2 * (1.83e-11 - 0.765e-8 * x**2)
    return 3.483740e-3 * ratio / compressibility * (1.0 - 0.3780 * x)


@pytest.mark.parametrize(("density", "factor"), CHECKS["buoyancy"]["points"])
def test_factor_in_reference_air(density: float, factor: float) -> None:
    assert buoyancy_factor(density) == pytest.approx(factor, abs=CHECKS["buoyancy"]["tolerance"])


@pytest.mark.parametrize(("density", "factor"), CHECKS["buoyancy"]["thin_air"]["points"])
def test_factor_in_the_air_of_a_high_place(density: float, factor: float) -> None:
    ours = buoyancy_factor(density, air_kg_per_m3=1.0, air_at_calibration_kg_per_m3=1.0)
    assert ours == pytest.approx(factor, abs=CHECKS["buoyancy"]["tolerance"])


def test_oil_is_heavier_than_the_scale_shows_by_an_eighth_of_a_percent() -> None:
    case = CHECKS["buoyancy"]["volume"]
    mass_kg = true_mass_kg(case["indicated_kg"], case["fluid_kg_per_m3"])
    volume_L = mass_kg / case["fluid_kg_per_m3"] * 1000.0
    assert volume_L == pytest.approx(case["volume_L"], abs=1e-4)
    assert volume_L - case["without_correction_L"] > 0.005


def test_weights_of_8000_need_no_correction() -> None:
    assert buoyancy_factor(8000.0) == pytest.approx(1.0, abs=1e-15)


@given(st.floats(0.0, 50.0), st.floats(600.0, 1200.0))
def test_mass_comes_back(mass_kg: float, density: float) -> None:
    assert indicated_mass_kg(true_mass_kg(mass_kg, density), density) == pytest.approx(mass_kg)


@given(st.floats(600.0, 1199.0))
def test_denser_fluid_is_lifted_less(density: float) -> None:
    assert buoyancy_factor(density + 1.0) < buoyancy_factor(density)


def test_relative_uncertainty_agrees_with_gtc() -> None:
    air, oil = ureal(1.2, 0.03), ureal(846.0, 1.5)
    theirs = (1.0 - 1.2 / 8000.0) / (1.0 - air / oil)
    ours = u_relative_buoyancy(846.0, u_fluid_kg_per_m3=1.5)
    assert ours == pytest.approx(theirs.u / theirs.x, rel=1e-9)


def test_what_stays_unsure_is_a_few_thousandths_of_a_percent() -> None:
    assert u_relative_buoyancy(850.0) == pytest.approx(3.534e-5, abs=1e-8)


@pytest.mark.parametrize("density", [1.2, 0.5, nan, -850.0])
def test_a_fluid_not_denser_than_air_is_refused(density: float) -> None:
    with pytest.raises(QuantityError, match="cannot be weighed"):
        buoyancy_factor(density)


@pytest.mark.parametrize(
    ("air_C", "mmHg", "percent", "printed", "slack"), CHECKS["air_density"]["points"]
)
def test_the_oracle_gives_the_printed_air_densities(
    air_C: float, mmHg: float, percent: float, printed: float, slack: float
) -> None:
    ours = cipm_2007_kg_per_m3(air_C, mmHg * PASCALS_PER_MMHG, percent / 100.0)
    assert ours == pytest.approx(printed, abs=slack)


def test_air_density_by_the_short_formula() -> None:
    case = CHECKS["air_density"]["oiml"]
    ours = air_density_kg_per_m3(case["air_C"], case["pressure_hPa"], case["humidity_percent"])
    assert ours == pytest.approx(case["kg_per_m3"], abs=2e-6)


@given(st.floats(10.0, 30.0), st.floats(900.0, 1100.0), st.floats(0.0, 80.0))
def test_the_short_formula_is_within_3e4_of_cipm_2007_where_it_is_made_for(
    air_C: float, pressure_hPa: float, percent: float
) -> None:
    exact = cipm_2007_kg_per_m3(air_C, pressure_hPa * 100.0, percent / 100.0)
    assert air_density_kg_per_m3(air_C, pressure_hPa, percent) == pytest.approx(exact, rel=3e-4)


@given(st.floats(10.0, 30.0), st.floats(990.0, 1035.0), st.floats(20.0, 80.0))
def test_a_workshop_near_sea_level_is_within_3_u_of_the_reference_air(
    air_C: float, pressure_hPa: float, percent: float
) -> None:
    assert abs(air_density_kg_per_m3(air_C, pressure_hPa, percent) - 1.2) < 3 * 0.03
