"""Fluids outside the table: with a given expansion, or measured by the shop."""

import tomllib
from math import nan
from pathlib import Path

import pytest
from GTC import ureal
from hypothesis import given
from hypothesis import strategies as st

from drainscale.errors import QuantityError
from drainscale.quantities.density import DensityModel, FluidDensity
from drainscale.quantities.job import FluidSheet
from drainscale.quantities.other_densities import LinearExpansionDensity, MeasuredDensity

CHECKS = tomllib.loads(
    (Path(__file__).parents[2] / "data" / "check_values.toml").read_text("utf-8")
)
temperatures = st.floats(-20.0, 110.0)


def glycol() -> LinearExpansionDensity:
    return LinearExpansionDensity(1060.0, 20.0, 2.0, 6.0e-4, 3.0e-5)


def shop_measured() -> MeasuredDensity:
    return MeasuredDensity([(15.0, 852.1), (35.0, 839.0), (55.0, 826.4)], 0.6, 0.8)


MODELS: list[DensityModel] = [
    glycol(), shop_measured(), FluidDensity(FluidSheet(850.0, 40.0, 1.5)),
]  # fmt: skip


def test_volume_grows_by_the_given_expansion() -> None:
    assert glycol().density_kg_per_m3(20.0) / glycol().density_kg_per_m3(70.0) == pytest.approx(
        1.03
    )


def test_linear_expansion_agrees_with_gtc() -> None:
    rho0, beta = ureal(1060.0, 2.0), ureal(6.0e-4, 3.0e-5)
    theirs = rho0 / (1.0 + beta * (80.0 - 20.0))
    fluid = glycol()
    rho = fluid.density_kg_per_m3(80.0)
    by_given = fluid.given_sensitivity(80.0) * fluid.u_given_kg_per_m3
    by_expansion = rho * fluid.relative_u_by_expansion(80.0)
    assert rho == pytest.approx(theirs.x, rel=1e-12)
    assert (by_given**2 + by_expansion**2) ** 0.5 == pytest.approx(theirs.u, rel=1e-9)


@pytest.mark.parametrize("fluid", MODELS, ids=lambda fluid: type(fluid).__name__)
@given(t_C=temperatures)
def test_expansion_is_the_derivative_of_density(fluid: DensityModel, t_C: float) -> None:
    h = 1e-3
    slope = (fluid.density_kg_per_m3(t_C + h) - fluid.density_kg_per_m3(t_C - h)) / (2.0 * h)
    assert -slope / fluid.density_kg_per_m3(t_C) == pytest.approx(
        fluid.expansion_per_K(t_C), rel=1e-6
    )


def test_two_points_are_joined() -> None:
    fluid = MeasuredDensity([(20.0, 850.0), (60.0, 824.0)], 0.5)
    assert fluid.density_kg_per_m3(20.0) == pytest.approx(850.0)
    assert fluid.density_kg_per_m3(60.0) == pytest.approx(824.0)


def test_measured_points_are_surest_in_their_middle() -> None:
    fluid = shop_measured()
    assert fluid.centre_C == pytest.approx(35.0)
    assert fluid.relative_u_by_expansion(35.0) == 0.0
    assert fluid.relative_u_by_expansion(100.0) > fluid.relative_u_by_expansion(55.0) > 0.0


def test_what_all_points_share_does_not_average_out() -> None:
    assert shop_measured().u_given_kg_per_m3 == pytest.approx((0.6**2 / 3 + 0.8**2) ** 0.5)


def test_a_line_through_measured_points_holds_for_a_paraffin_that_the_table_fails() -> None:
    case = CHECKS["dodecane"]
    ends = [(case["t_C"][i], case["kg_per_m3"][i]) for i in (0, 2)]
    line, table = MeasuredDensity(ends, 0.5), FluidDensity(FluidSheet(ends[0][1], ends[0][0], 0.5))
    assert line.density_kg_per_m3(40.0) == pytest.approx(case["kg_per_m3"][1], rel=3e-4)
    assert abs(table.density_kg_per_m3(100.0) - ends[1][1]) > 5.0


def test_one_point_is_no_line() -> None:
    with pytest.raises(QuantityError, match="at least 2"):
        MeasuredDensity([(15.0, 850.0)], 0.5)


def test_points_at_one_temperature_are_no_line() -> None:
    with pytest.raises(QuantityError, match="same x"):
        MeasuredDensity([(15.0, 850.0), (15.0, 851.0)], 0.5)


@pytest.mark.parametrize(("density", "beta"), [(0.0, 6e-4), (nan, 6e-4), (850.0, nan)])
def test_a_fluid_that_is_none_is_refused(density: float, beta: float) -> None:
    with pytest.raises(QuantityError, match="is none"):
        LinearExpansionDensity(density, 20.0, 1.0, beta, 1e-5)


def test_a_density_below_nothing_is_refused() -> None:
    with pytest.raises(QuantityError, match="no density at"):
        LinearExpansionDensity(850.0, 100.0, 1.0, 0.02, 1e-5).density_kg_per_m3(20.0)
