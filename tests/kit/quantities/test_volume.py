"""Volumes from hand-written budgets: a reference point, GTC, and the properties they must have."""

import tomllib
from pathlib import Path
from typing import Any

import pytest
from GTC import exp as gtc_exp
from GTC import ureal
from hypothesis import given
from hypothesis import strategies as st

from drainscale.quantities.density import DensityModel, FluidDensity
from drainscale.quantities.job import FluidSheet
from drainscale.quantities.measured import Measured
from drainscale.quantities.other_densities import LinearExpansionDensity, MeasuredDensity
from drainscale.quantities.volume import (
    Air,
    Weighed,
    true_mass_kg,
    volume_at_20C_L,
    volume_at_fluid_L,
)

CASE = tomllib.loads((Path(__file__).parents[2] / "data" / "check_values.toml").read_text("utf-8"))[
    "weighed_oil"
]
OIL = FluidDensity(FluidSheet(846.0, 15.0, 1.5))
MODELS: list[DensityModel] = [
    OIL,
    FluidDensity(FluidSheet(831.0, 40.0, 2.0)),
    LinearExpansionDensity(1060.0, 20.0, 2.0, 6.0e-4, 3.0e-5),
    MeasuredDensity([(15.0, 852.1), (35.0, 839.0), (55.0, 826.4)], 0.6, 0.8),
]


def reference_volume() -> Measured:
    fluid = FluidDensity(
        FluidSheet(CASE["rho15_kg_per_m3"], 15.0, CASE["u_rho15_kg_per_m3"]),
        u_expansion_relative=0.0,
    )
    weighed = Weighed(CASE["indicated_kg"], 0.0, CASE["u_kg"])
    return volume_at_fluid_L(weighed, fluid, CASE["fluid_C"], CASE["u_fluid_C"], Air(1.2, 0.0))


def in_gtc(weighed: Weighed, fluid_C: float, u_fluid_C: float) -> tuple[Any, Any, Any]:
    """True mass, volume at temperature and at 20 °C of ``OIL``, by GTC's own propagation."""
    reading = (
        weighed.indicated_kg
        + ureal(0.0, weighed.u_weights_kg)
        + ureal(0.0, weighed.u_repeatability_kg)
        + ureal(0.0, weighed.u_unweighed_kg)
    )
    rho15, stretch = ureal(846.0, 1.5), ureal(1.0, 0.03)

    def density(t_C: Any) -> Any:
        x = 0.6278 / rho15 * (t_C - 15.0)
        return rho15 * gtc_exp(-stretch * x * (1.0 + 0.8 * x))

    rho = density(ureal(fluid_C, u_fluid_C))
    mass = reading * (1.0 - 1.2 / 8000.0) / (1.0 - ureal(1.2, 0.03) / rho)
    return mass, 1000.0 * mass / rho, 1000.0 * mass / density(20.0)


def test_volume_and_uncertainty_of_the_reference_point() -> None:
    assert reference_volume().value == pytest.approx(CASE["volume_L"], abs=1e-6)
    assert reference_volume().u == pytest.approx(CASE["u_L"], abs=1e-6)


def test_shares_of_the_reference_point() -> None:
    by_source = {share.source: share.u for share in reference_volume().shares}
    assert by_source["repeatability"] == pytest.approx(CASE["u_by_mass_L"], abs=1e-6)
    assert by_source["density of the fluid"] == pytest.approx(CASE["u_by_density_L"], abs=1e-6)
    assert by_source["fluid temperature"] == pytest.approx(CASE["u_by_temperature_L"], abs=1e-6)


@pytest.mark.parametrize(
    ("weighed", "fluid_C", "u_fluid_C"),
    [
        (Weighed(3.4, 0.0003, 0.0006), 62.0, 1.0),
        (Weighed(0.4, 0.0001, 0.0006, 0.012), 39.0, 0.8),
        (Weighed(5.1, 0.0005, 0.0006), 4.0, 2.0),
    ],
)
def test_all_three_results_agree_with_gtc(
    weighed: Weighed, fluid_C: float, u_fluid_C: float
) -> None:
    ours = [
        make(weighed, OIL, fluid_C, u_fluid_C)
        for make in (true_mass_kg, volume_at_fluid_L, volume_at_20C_L)
    ]
    theirs = in_gtc(weighed, fluid_C, u_fluid_C)
    assert [m.value for m in ours] == pytest.approx([m.x for m in theirs], rel=1e-12)
    assert [m.u for m in ours] == pytest.approx([m.u for m in theirs], rel=1e-9)


@pytest.mark.parametrize("fluid", MODELS, ids=lambda fluid: type(fluid).__name__)
def test_at_20_C_both_volumes_are_the_same_value(fluid: DensityModel) -> None:
    weighed = Weighed(3.0, 0.0003, 0.0006)
    at_fluid = volume_at_fluid_L(weighed, fluid, 20.0, 0.0)
    at_20 = volume_at_20C_L(weighed, fluid, 20.0, 0.0)
    assert at_fluid.value == pytest.approx(at_20.value, rel=1e-12)
    assert at_fluid.u == pytest.approx(at_20.u, rel=1e-9)


@given(st.floats(0.1, 10.0), st.floats(-10.0, 100.0))
def test_a_hot_fluid_has_more_volume_than_at_20_C(mass_kg: float, above_K: float) -> None:
    weighed, fluid_C = Weighed(mass_kg, 0.0, 0.0), 20.0 + above_K
    grown = volume_at_fluid_L(weighed, OIL, fluid_C, 0.0).value
    at_20 = volume_at_20C_L(weighed, OIL, fluid_C, 0.0).value
    assert (grown > at_20) is (above_K > 0.0) or abs(above_K) < 1e-9


@given(st.floats(0.1, 10.0), st.floats(0.1, 5.0))
def test_twice_the_mass_is_twice_the_volume(mass_kg: float, factor: float) -> None:
    one = volume_at_20C_L(Weighed(mass_kg, 0.0, 0.0), OIL, 25.0, 1.0)
    more = volume_at_20C_L(Weighed(factor * mass_kg, 0.0, 0.0), OIL, 25.0, 1.0)
    assert more.value == pytest.approx(factor * one.value)
    assert more.u == pytest.approx(factor * one.u)


def test_the_temperature_hardly_matters_at_20_C() -> None:
    weighed = Weighed(3.4, 0.0003, 0.0006)
    warm = volume_at_20C_L(weighed, OIL, 60.0, 5.0)
    by_source = {share.source: share.fraction for share in warm.shares}
    assert by_source["fluid temperature"] < 1e-4


def test_nothing_weighed_still_has_the_uncertainty_of_its_readings() -> None:
    nothing = volume_at_20C_L(Weighed(0.0, 0.0, 0.0006), OIL, 20.0, 1.0)
    assert nothing.value == 0.0
    assert nothing.u == pytest.approx(0.0006 / 0.843, rel=0.01)


def test_density_dominates_where_the_sheet_is_all_there_is() -> None:
    assert volume_at_fluid_L(Weighed(3.4, 0.0003, 0.0006), OIL, 22.0, 1.0).shares[0].source == (
        "density of the fluid"
    )
