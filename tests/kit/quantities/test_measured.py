"""Budgets: shares by source, and the worked example H.1 of the GUM."""

import tomllib
from math import sqrt
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from drainscale.quantities.measured import Measured, budget, measured, variable

CHECKS = tomllib.loads(
    (Path(__file__).parents[2] / "data" / "check_values.toml").read_text("utf-8")
)


def end_gauge() -> Measured:
    """JCGM 100:2008, H.1.2: l = ls + d - ls (dalpha theta + alphas dtheta); lengths in nm."""
    standard = ufloat(50.000623e6, 25.0, "standard")
    difference = ufloat(215.0, sqrt(5.8**2 + 3.9**2 + 6.7**2), "comparison")
    alpha = ufloat(11.5e-6, 2e-6 / sqrt(3.0), "expansion")
    delta_alpha = ufloat(0.0, 1e-6 / sqrt(6.0), "difference of expansion")
    theta = ufloat(-0.1, sqrt(0.2**2 + 0.5**2 / 2.0), "temperature")
    delta_theta = ufloat(0.0, 0.05 / sqrt(3.0), "difference of temperature")
    return measured(standard + difference - standard * (delta_alpha * theta + alpha * delta_theta))


def test_end_gauge_of_the_gum() -> None:
    assert end_gauge().value == pytest.approx(1e6 * CHECKS["end_gauge"]["length_mm"], abs=0.5)
    assert end_gauge().u == pytest.approx(CHECKS["end_gauge"]["u_nm"], abs=0.5)


def test_end_gauge_budget_is_that_of_table_h1() -> None:
    """JCGM 100:2008, table H.1: 25, 9.7, 2.9 and 16.6 nm."""
    by_source = {share.source: share.u for share in end_gauge().shares}
    assert by_source["standard"] == pytest.approx(25.0, abs=0.05)
    assert by_source["comparison"] == pytest.approx(9.7, abs=0.05)
    assert by_source["difference of temperature"] == pytest.approx(16.6, abs=0.05)


def test_shares_are_sorted_and_make_up_the_whole() -> None:
    shares = end_gauge().shares
    assert [s.u for s in shares] == sorted((s.u for s in shares), reverse=True)
    assert sum(s.fraction for s in shares) == pytest.approx(1.0)


def test_causes_of_one_source_are_joined() -> None:
    total = Measured.of_components(1.0, [("repeatability", 3.0), ("repeatability", -4.0)])
    assert [(s.source, s.u) for s in total.shares] == [("repeatability", 5.0)]


def test_expanded_uncertainty_is_two_standard_ones() -> None:
    result = Measured(1.0, 0.3)
    assert result.U / result.u == 2.0


def test_an_exact_quantity_has_no_budget() -> None:
    exact = variable(2.5, 0.0, "repeatability")
    assert measured(exact) == Measured(2.5, 0.0, ())
    assert budget(exact) == []


@given(st.floats(0.1, 100.0), st.floats(0.01, 1.0))
def test_a_quantity_minus_itself_is_exactly_nothing(value: float, u: float) -> None:
    quantity = variable(value, u, "repeatability")
    assert measured(quantity - quantity).u == 0.0


@given(st.floats(0.01, 1.0), st.floats(0.01, 1.0))
def test_two_quantities_made_alike_are_independent(a: float, b: float) -> None:
    difference = variable(1.0, a, "repeatability") - variable(1.0, b, "repeatability")
    assert measured(difference).u == pytest.approx(sqrt(a * a + b * b))
