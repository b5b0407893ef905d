"""Units: exact factors from NIST SP 811, with pint as an independent implementation."""

import tomllib
from pathlib import Path

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.quantities import units

CHECKS = tomllib.loads(
    (Path(__file__).parents[2] / "data" / "check_values.toml").read_text("utf-8")
)["units"]
FACTORS = [(name, value) for name, value in CHECKS.items() if name.isupper()]
PINT_UNITS = [
    ("LITRES_PER_US_QUART", "US_liquid_quart", "liter"),
    ("LITRES_PER_US_GALLON", "US_liquid_gallon", "liter"),
    ("LITRES_PER_US_PINT", "US_pint", "liter"),
    ("LITRES_PER_US_FLUID_OUNCE", "US_fluid_ounce", "liter"),
    ("LITRES_PER_IMPERIAL_QUART", "imperial_quart", "liter"),
    ("KG_PER_POUND", "pound", "kilogram"),
    ("NEWTON_METRES_PER_POUND_FOOT", "force_pound * foot", "newton * meter"),
    ("NEWTON_METRES_PER_POUND_INCH", "force_pound * inch", "newton * meter"),
]
litres = st.floats(0.0, 1000.0)
celsius = st.floats(-50.0, 200.0)


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry[float]:
    return pint.UnitRegistry()


@pytest.mark.parametrize(("name", "published"), FACTORS)
def test_factor_is_the_defined_one(name: str, published: float) -> None:
    assert getattr(units, name) == pytest.approx(published, rel=1e-15)


@pytest.mark.parametrize(("name", "unit", "target"), PINT_UNITS)
def test_factor_agrees_with_pint(
    name: str, unit: str, target: str, registry: pint.UnitRegistry[float]
) -> None:
    theirs = registry.Quantity(1.0, unit).to(target).magnitude
    assert getattr(units, name) == pytest.approx(theirs, rel=1e-14)


@pytest.mark.parametrize(("fahrenheit", "expected_C"), CHECKS["fahrenheit"]["points"])
def test_fixed_points_of_fahrenheit(fahrenheit: float, expected_C: float) -> None:
    assert units.fahrenheit_to_celsius(fahrenheit) == pytest.approx(expected_C, abs=1e-12)
    assert units.celsius_to_fahrenheit(expected_C) == pytest.approx(fahrenheit, abs=1e-12)


@given(celsius)
def test_fahrenheit_agrees_with_pint(temperature_C: float) -> None:
    theirs = pint.application_registry.Quantity(temperature_C, "degC").to("degF").magnitude
    assert units.celsius_to_fahrenheit(temperature_C) == pytest.approx(theirs, abs=1e-9)


def test_a_difference_of_9_fahrenheit_steps_is_5_kelvin_without_the_offset() -> None:
    assert units.fahrenheit_steps_to_kelvin(9.0) == pytest.approx(5.0, rel=1e-15)
    assert units.kelvin_to_fahrenheit_steps(2.0) == pytest.approx(3.6, rel=1e-15)


@given(litres)
def test_volumes_come_back(volume_L: float) -> None:
    assert units.quarts_to_litres(units.litres_to_quarts(volume_L)) == pytest.approx(volume_L)
    assert units.gallons_to_litres(units.litres_to_gallons(volume_L)) == pytest.approx(volume_L)


@given(celsius)
def test_temperatures_come_back(temperature_C: float) -> None:
    back = units.fahrenheit_to_celsius(units.celsius_to_fahrenheit(temperature_C))
    assert back == pytest.approx(temperature_C, abs=1e-12)


@given(st.floats(0.0, 500.0))
def test_torques_come_back(torque_N_m: float) -> None:
    there = units.newton_metres_to_pound_feet(torque_N_m)
    assert units.pound_feet_to_newton_metres(there) == pytest.approx(torque_N_m)


def test_four_quarts_are_a_gallon() -> None:
    assert units.quarts_to_litres(4.0) == pytest.approx(units.gallons_to_litres(1.0), rel=1e-15)


@given(st.floats(0.0, 200.0), st.floats(600.0, 1200.0))
def test_mass_flow_and_volume_flow_come_back(flow_g_per_s: float, density: float) -> None:
    there = units.flow_mL_per_min(flow_g_per_s, density)
    assert units.flow_g_per_s(there, density) == pytest.approx(flow_g_per_s)


def test_mass_flow_to_volume_flow_agrees_with_pint(registry: pint.UnitRegistry[float]) -> None:
    mass_flow = registry.Quantity(1.7, "gram / second")
    volume_flow = (mass_flow / registry.Quantity(831.0, "kg / m**3")).to("milliliter / minute")
    assert units.flow_mL_per_min(1.7, 831.0) == pytest.approx(volume_flow.magnitude, rel=1e-12)


@given(litres, st.floats(600.0, 1200.0))
def test_volume_and_mass_come_back(volume_L: float, density: float) -> None:
    assert units.volume_L(units.mass_kg(volume_L, density), density) == pytest.approx(volume_L)
