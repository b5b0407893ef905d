"""Straight lines against ISO/TS 28037, JCGM 100 H.3 and GTC."""

import tomllib
from math import nan, sqrt
from pathlib import Path
from typing import Any

import pytest
from GTC import get_correlation, type_b, ureal
from hypothesis import given
from hypothesis import strategies as st

from drainscale.errors import QuantityError
from drainscale.quantities.straight_line import Line, chi_squared_tail, fit_line

CHECKS = tomllib.loads(
    (Path(__file__).parents[2] / "data" / "check_values.toml").read_text("utf-8")
)
EQUAL = CHECKS["lines"][0]
THERMOMETER = CHECKS["thermometer_calibration"]


def equal_weights() -> Line:
    return fit_line(EQUAL["x"], EQUAL["y"], EQUAL["u_y"])


def thermometer() -> tuple[Line, float]:
    """The line of H.3 with unit weights, and the scatter about it (no u is given there)."""
    x = [t - THERMOMETER["reference_C"] for t in THERMOMETER["t_C"]]
    line = fit_line(x, THERMOMETER["correction_C"], 1.0)
    return line, sqrt(line.chi2 / line.dof)


@pytest.mark.parametrize("case", CHECKS["lines"], ids=lambda case: case["source"][20:50])
def test_examples_of_iso_28037(case: dict[str, Any]) -> None:
    line = fit_line(case["x"], case["y"], case["u_y"], case.get("u_x"))
    ours = [line.a, line.b, line.u_a, line.u_b, line.cov_ab, line.chi2]
    assert ours == pytest.approx(case["a_b_ua_ub_cov_chi2"], abs=case["tolerance"])
    assert line.dof == 4
    assert line.is_consistent


def test_inverse_use_of_the_line() -> None:
    case = CHECKS["line_use"]
    ours = equal_weights().x(case["inverse_y"], case["inverse_u_y"])
    assert ours == pytest.approx(case["inverse"], abs=1e-6)


def test_forward_use_of_the_line() -> None:
    case = CHECKS["line_use"]
    ours = equal_weights().y(case["forward_x"], case["forward_u_x"])
    assert ours == pytest.approx(case["forward"], abs=1e-6)


def test_thermometer_calibration_of_the_gum() -> None:
    line, scatter = thermometer()
    assert (line.a, scatter * line.u_a) == pytest.approx(THERMOMETER["intercept"], abs=1e-6)
    assert (line.b, scatter * line.u_b) == pytest.approx(THERMOMETER["slope"], abs=1e-7)
    assert line.cov_ab / (line.u_a * line.u_b) == pytest.approx(
        THERMOMETER["correlation"], abs=1e-5
    )


def test_the_correction_at_30_C_keeps_the_correlation() -> None:
    line, scatter = thermometer()
    value, u = line.y(30.0 - THERMOMETER["reference_C"])
    assert (value, scatter * u) == pytest.approx(THERMOMETER["at_30C"], abs=1e-6)


def test_weighted_line_agrees_with_gtc() -> None:
    x, y, u = [0.0, 2.0, 5.0, 10.0], [0.03, 1.98, 5.05, 9.96], [0.02, 0.03, 0.05, 0.04]
    theirs = type_b.line_fit_wls(x, [ureal(*pair) for pair in zip(y, u, strict=True)])
    ours = fit_line(x, y, u)
    a, b = theirs.a_b
    assert (ours.a, ours.b, ours.u_a, ours.u_b) == pytest.approx((a.x, b.x, a.u, b.u), rel=1e-9)
    assert ours.cov_ab == pytest.approx(a.u * b.u * get_correlation(a, b), rel=1e-9)


def test_line_with_errors_in_both_agrees_with_gtc() -> None:
    case = CHECKS["lines"][2]
    xs = [ureal(x, u) for x, u in zip(case["x"], case["u_x"], strict=True)]
    ys = [ureal(y, u) for y, u in zip(case["y"], case["u_y"], strict=True)]
    a, b = type_b.line_fit_wtls(xs, ys).a_b
    ours = fit_line(case["x"], case["y"], case["u_y"], case["u_x"])
    assert (ours.a, ours.b) == pytest.approx((a.x, b.x), rel=1e-5)


@given(st.floats(-10.0, 10.0), st.floats(0.1, 10.0), st.floats(0.0, 0.5))
def test_points_on_a_line_give_that_line(a: float, b: float, u_x: float) -> None:
    x = [0.0, 1.0, 3.0, 4.0, 8.0]
    line = fit_line(x, [a + b * xi for xi in x], 0.2, u_x)
    assert (line.a, line.b) == pytest.approx((a, b), abs=1e-9)
    assert line.chi2 == pytest.approx(0.0, abs=1e-12)


@given(st.floats(0.1, 5.0))
def test_swapping_the_axes_inverts_the_slope(u: float) -> None:
    x, y = [0.0, 1.1, 1.9, 3.2, 4.0], [0.1, 2.0, 4.1, 5.9, 8.2]
    there, back = fit_line(x, y, u, 0.5), fit_line(y, x, 0.5, u)
    assert there.b * back.b == pytest.approx(1.0, rel=1e-6)


@given(st.floats(0.01, 100.0))
def test_the_line_does_not_depend_on_a_common_factor_of_u(factor: float) -> None:
    wide = fit_line(EQUAL["x"], EQUAL["y"], 0.5 * factor)
    assert (wide.a, wide.b) == pytest.approx((equal_weights().a, equal_weights().b))
    assert wide.u_b == pytest.approx(factor * equal_weights().u_b)


@pytest.mark.parametrize(("dof", "p", "critical"), CHECKS["chi_squared"]["points"])
def test_chi_squared_against_a_handbook_table(dof: int, p: float, critical: float) -> None:
    assert chi_squared_tail(critical, dof) == pytest.approx(p, abs=1e-4)


def test_two_points_cannot_speak_against_a_line() -> None:
    line = fit_line([0.0, 1.0], [0.0, 5.0], 0.1)
    assert line.dof == 0
    assert line.p_value == 1.0


def test_points_far_from_a_line_speak_against_it() -> None:
    assert not fit_line([0.0, 1.0, 2.0], [0.0, 1.0, 3.0], 0.1).is_consistent


@pytest.mark.parametrize(
    ("x", "y", "u_y", "message"),
    [
        ([1.0], [1.0], 0.1, "at least 2"),
        ([1.0, 2.0], [1.0], 0.1, "not equal"),
        ([1.0, 1.0], [1.0, 2.0], 0.1, "same x"),
        ([1.0, 2.0], [1.0, nan], 0.1, "not finite"),
        ([1.0, 2.0], [1.0, 2.0], -0.1, "below 0"),
        ([1.0, 2.0], [1.0, 2.0], 0.0, "without uncertainty"),
    ],
)
def test_what_is_no_line_is_refused(
    x: list[float], y: list[float], u_y: float, message: str
) -> None:
    with pytest.raises(QuantityError, match=message):
        fit_line(x, y, u_y)
