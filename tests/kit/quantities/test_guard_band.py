"""Guard bands and conformance probability against JCGM 106 and a reference library's numbers."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.errors import QuantityError
from drainscale.quantities.guard_band import (
    coverage_factor,
    guarded_lower,
    guarded_upper,
    guarded_window,
    normal_cdf,
    p_above,
    p_below,
    p_between,
)

CHECKS = tomllib.loads(
    (Path(__file__).parents[2] / "data" / "check_values.toml").read_text("utf-8")
)["guarded"]
WINDOW = CHECKS["window"]
values = st.floats(0.0, 130.0)
us = st.floats(0.01, 10.0)


@pytest.mark.parametrize(("probability", "factor"), CHECKS["points"])
def test_number_of_u_for_a_probability(probability: float, factor: float) -> None:
    assert coverage_factor(probability) == pytest.approx(factor, abs=0.006)


@given(st.floats(0.001, 0.999))
def test_number_of_u_and_probability_come_back(probability: float) -> None:
    assert normal_cdf(coverage_factor(probability)) == pytest.approx(probability, rel=1e-9)


def test_far_tails_keep_their_digits() -> None:
    """Abramowitz and Stegun, table 26.2: Q(5) = 2.86652e-7."""
    assert normal_cdf(-5.0) == pytest.approx(2.86652e-7, rel=1e-5)
    assert p_above(50.0, 45.0, 1.0) == pytest.approx(2.86652e-7, rel=1e-5)


def test_a_value_some_u_above_its_lower_limit() -> None:
    case = CHECKS["diode"]
    ours = p_below(case["limit_V"], case["measured_V"], case["u_V"])
    assert ours == pytest.approx(case["probability"], abs=0.005)


def test_a_limit_that_must_surely_be_exceeded() -> None:
    """Acceptance limit with u proportional to the value: v (1 - k u_r) = limit."""
    case = CHECKS["speed"]
    v = case["acceptance_km_per_h"]
    needed = guarded_lower(case["limit_km_per_h"], case["u_relative"] * v, case["probability"])
    assert needed == pytest.approx(v, abs=0.5)


@pytest.mark.parametrize(("value", "u", "probability"), WINDOW["conformance"])
def test_conformance_probability_in_a_window(value: float, u: float, probability: float) -> None:
    ours = p_between(WINDOW["lower_C"], WINDOW["upper_C"], value, u)
    assert ours == pytest.approx(probability, abs=1e-6)


def test_window_narrowed_for_95_percent() -> None:
    ours = guarded_window(WINDOW["lower_C"], WINDOW["upper_C"], 1.0)
    assert ours == pytest.approx(WINDOW["limits_95"], abs=1e-6)


def test_window_narrowed_by_the_expanded_uncertainty() -> None:
    ours = guarded_window(WINDOW["lower_C"], WINDOW["upper_C"], 1.0, normal_cdf(2.0))
    assert ours == pytest.approx(WINDOW["limits_2u"], abs=1e-9)


def test_nothing_is_left_of_a_window_narrower_than_its_guard_bands() -> None:
    assert guarded_window(35.0, 38.0, 1.0) is None


@given(values, us, st.floats(0.5, 0.999))
def test_at_the_guarded_limit_the_probability_is_as_asked(
    limit: float, u: float, probability: float
) -> None:
    upper = guarded_upper(limit, u, probability)
    lower = guarded_lower(limit, u, probability)
    assert p_below(limit, upper, u) == pytest.approx(probability, rel=1e-6)
    assert p_above(limit, lower, u) == pytest.approx(probability, rel=1e-6)


@given(values, us)
def test_below_inside_and_above_are_all_there_is(value: float, u: float) -> None:
    total = p_below(35.0, value, u) + p_between(35.0, 45.0, value, u) + p_above(45.0, value, u)
    assert total == pytest.approx(1.0, abs=1e-12)


@given(st.floats(-100.0, 100.0), st.floats(0.01, 100.0))
def test_a_window_gives_a_probability(value: float, u: float) -> None:
    assert 0.0 <= p_between(35.0, 45.0, value, u) <= 1.0


@given(values, us, st.floats(0.1, 10.0))
def test_only_the_distance_in_u_matters(value: float, u: float, factor: float) -> None:
    ours = p_below(40.0 * factor, value * factor, u * factor)
    assert ours == pytest.approx(p_below(40.0, value, u), abs=1e-9)


@pytest.mark.parametrize(("value", "inside"), [(34.9, 0.0), (40.0, 1.0), (45.1, 0.0)])
def test_without_uncertainty_the_answer_is_sharp(value: float, inside: float) -> None:
    assert p_between(35.0, 45.0, value, 0.0) == inside


@pytest.mark.parametrize("probability", [0.0, 1.0, -0.1, 1.1])
def test_certainty_has_no_number_of_u(probability: float) -> None:
    with pytest.raises(QuantityError, match="not between 0 and 1"):
        coverage_factor(probability)


def test_an_uncertainty_below_zero_is_refused() -> None:
    with pytest.raises(QuantityError, match="below 0"):
        p_below(35.0, 36.0, -1.0)
