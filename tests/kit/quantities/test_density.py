"""Density of the product sheet's fluid, against table 54D and measured liquids."""

import tomllib
from math import inf, log, nan, sqrt
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.errors import QuantityError
from drainscale.quantities.density import (
    EXPANSION_U_RELATIVE,
    K1_KG_PER_M3_PER_K,
    FluidDensity,
    base_density_kg_per_m3,
    vcf_54d,
)
from drainscale.quantities.job import FluidSheet

CHECKS = tomllib.loads(
    (Path(__file__).parents[2] / "data" / "check_values.toml").read_text("utf-8")
)
TABLE = CHECKS["vcf_54d"]
SINGLE = CHECKS["density_54d"]
GRID = [
    (float(rho15), t, vcf)
    for rho15, row in TABLE["rows"].items()
    for t, vcf in zip(TABLE["t_C"], row, strict=True)
]

# what a job file may hold
sheets = st.builds(
    FluidSheet,
    density_kg_per_m3=st.floats(600.0, 1200.0),
    density_C=st.floats(-20.0, 110.0),
    density_u_kg_per_m3=st.floats(0.0, 50.0),
)
temperatures = st.floats(-20.0, 110.0)


def oil(density: float = 850.0, at_C: float = 15.0, u: float = 1.5) -> FluidDensity:
    return FluidDensity(FluidSheet(density, at_C, u))


@pytest.mark.parametrize(("rho15", "t_C", "vcf"), GRID)
def test_volume_correction_factor_of_the_table(rho15: float, t_C: float, vcf: float) -> None:
    assert oil(rho15).vcf_15(t_C) == pytest.approx(vcf, abs=TABLE["tolerance"])
    assert vcf_54d(rho15, t_C) == pytest.approx(vcf, abs=TABLE["tolerance"])


def test_density_at_temperature() -> None:
    published = SINGLE["rho15_850_at_40C_kg_per_m3"]
    assert oil(850.0).density_kg_per_m3(40.0) == pytest.approx(published, abs=1e-4)


def test_base_density_from_a_density_measured_warm() -> None:
    published = SINGLE["rho15_of_820_at_60C_kg_per_m3"]
    assert base_density_kg_per_m3(820.0, 60.0) == pytest.approx(published, abs=1e-4)


def test_expansion_at_15_C() -> None:
    assert oil(850.0).expansion_per_K(15.0) == pytest.approx(
        SINGLE["alpha15_of_850_per_K"], abs=1e-9
    )


def test_the_coefficient_per_fahrenheit_step_is_not_the_one_in_use() -> None:
    wrong = SINGLE["wrong_with_customary_K1_850_at_80C"]
    assert abs(oil(850.0).vcf_15(80.0) - wrong) > 0.02
    assert pytest.approx(1.8 * 0.34878, rel=1e-4) == K1_KG_PER_M3_PER_K


@given(sheets)
def test_the_sheet_gets_its_own_density_back(sheet: FluidSheet) -> None:
    ours = FluidDensity(sheet).density_kg_per_m3(sheet.density_C)
    assert ours == pytest.approx(sheet.density_kg_per_m3, rel=1e-11)


@given(st.floats(600.0, 1200.0), temperatures)
def test_base_density_comes_back(rho15: float, t_C: float) -> None:
    there = rho15 * vcf_54d(rho15, t_C)
    assert base_density_kg_per_m3(there, t_C) == pytest.approx(rho15, rel=1e-10)


@given(sheets, temperatures)
def test_a_warmer_fluid_is_lighter(sheet: FluidSheet, t_C: float) -> None:
    fluid = FluidDensity(sheet)
    assert fluid.density_kg_per_m3(t_C + 0.1) < fluid.density_kg_per_m3(t_C)


@given(sheets, temperatures, st.floats(0.01, 20.0))
def test_volume_at_20_C_comes_back_and_scales(sheet: FluidSheet, t_C: float, litres: float) -> None:
    fluid = FluidDensity(sheet)
    at_20 = fluid.volume_at_20C_L(litres, t_C)
    assert fluid.volume_from_20C_L(at_20, t_C) == pytest.approx(litres)
    assert fluid.volume_at_20C_L(3.0 * litres, t_C) == pytest.approx(3.0 * at_20)


def test_six_litres_at_60_C_are_168_mL_less_at_20_C() -> None:
    assert oil(850.0).volume_at_20C_L(6.0, 60.0) == pytest.approx(5.82, abs=0.005)


@given(sheets, temperatures)
def test_temperature_sensitivity_is_the_derivative(sheet: FluidSheet, t_C: float) -> None:
    fluid, h = FluidDensity(sheet), 1e-3
    slope = (fluid.density_kg_per_m3(t_C + h) - fluid.density_kg_per_m3(t_C - h)) / (2.0 * h)
    assert fluid.temperature_sensitivity(t_C) == pytest.approx(slope, rel=1e-6)


@given(sheets, temperatures)
def test_sheet_sensitivity_is_the_derivative(sheet: FluidSheet, t_C: float) -> None:
    h = 1e-3
    up, down = (
        FluidDensity(FluidSheet(sheet.density_kg_per_m3 + d, sheet.density_C, 1.0)) for d in (h, -h)
    )
    slope = (up.density_kg_per_m3(t_C) - down.density_kg_per_m3(t_C)) / (2.0 * h)
    assert FluidDensity(sheet).given_sensitivity(t_C) == pytest.approx(slope, rel=1e-6)


@given(sheets)
def test_the_expansion_is_not_unsure_where_the_density_was_measured(sheet: FluidSheet) -> None:
    assert FluidDensity(sheet).relative_u_by_expansion(sheet.density_C) == 0.0


def test_the_expansion_acts_in_opposite_directions_on_both_sides() -> None:
    fluid = oil(850.0, at_C=40.0)
    assert fluid.relative_u_by_expansion(15.0) < 0.0 < fluid.relative_u_by_expansion(80.0)


@pytest.mark.parametrize("liquid", CHECKS["measured_liquids"], ids=lambda liquid: liquid["name"])
def test_oils_that_are_not_the_tables_lie_within_two_u_of_expansion(liquid: dict[str, Any]) -> None:
    fluid = oil(liquid["kg_per_m3"][0], at_C=liquid["t_C"][0])
    for t_C, measured in zip(liquid["t_C"], liquid["kg_per_m3"], strict=True):
        off = log(fluid.density_kg_per_m3(t_C) / measured)
        assert abs(off) <= 2.0 * abs(fluid.relative_u_by_expansion(t_C)) + 1e-12


def test_the_expansion_u_is_that_of_three_measured_oils() -> None:
    shares = []
    for liquid in CHECKS["measured_liquids"]:
        cold, hot = liquid["kg_per_m3"][0], liquid["kg_per_m3"][-1]
        shares.append(log(cold / hot) / -log(vcf_54d(cold, 100.0)) - 1.0)
    rms = sqrt(sum(share**2 for share in shares) / len(shares))
    assert rms < EXPANSION_U_RELATIVE < 1.5 * rms


def test_a_light_hydrocarbon_is_outside_the_table_and_is_said_to_be() -> None:
    cold, _, hot = CHECKS["dodecane"]["kg_per_m3"]
    fluid = oil(cold, at_C=20.0)
    assert not fluid.is_within_table
    assert fluid.warning is not None
    assert "outside the lubricating-oil table" in fluid.warning
    off = log(fluid.density_kg_per_m3(100.0) / hot)
    assert abs(off) > 2.0 * abs(fluid.relative_u_by_expansion(100.0))


@pytest.mark.parametrize(
    ("density", "within"), [(799.0, False), (803.0, True), (850.0, True), (1166.0, False)]
)
def test_the_table_ends_where_the_standard_says(density: float, within: bool) -> None:
    fluid = oil(density)
    assert fluid.is_within_table is within
    assert (fluid.warning is None) is within


def test_a_temperature_beyond_the_table_is_told() -> None:
    assert oil().is_within_table_at(150.0)
    assert not oil().is_within_table_at(150.1)
    assert not oil().is_within_table_at(-50.1)


@pytest.mark.parametrize(
    ("density", "at_C"), [(0.0, 15.0), (-1.0, 15.0), (nan, 15.0), (850.0, inf)]
)
def test_a_density_that_is_none_is_refused(density: float, at_C: float) -> None:
    with pytest.raises(QuantityError, match="is none"):
        base_density_kg_per_m3(density, at_C)


def test_no_base_density_for_a_fluid_far_too_light() -> None:
    with pytest.raises(QuantityError, match="no density at 15 °C"):
        base_density_kg_per_m3(1.0, 110.0)
