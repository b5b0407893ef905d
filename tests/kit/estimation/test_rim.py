"""The law of a rim: what a volume above it gives, against handbook laws and an integral."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.estimation.rim import (
    CHECK_HOLE,
    PIPE_POWER,
    STANDPIPE,
    Rim,
    flow_and_slopes,
    flow_off,
    head_power,
    pipe_for,
)

WIDE = 12.0  # ln of a pipe that limits nothing
RIMS = st.sampled_from((STANDPIPE, CHECK_HOLE))


def test_double_the_volume_over_a_wide_rim_gives_2_83_times_the_flow() -> None:
    """2^1.5: two weir laws agree on the power (King and Brater, Handbook of Hydraulics)."""
    one, two = (flow_off(STANDPIPE, math.log(v), -5.4, WIDE) for v in (50.0, 100.0))
    assert two / one == pytest.approx(2.828_427, rel=1e-3)


def _through_hole(head_m: float, bore_m: float = 0.014, steps: int = 20_000) -> float:
    """Torricelli's speed over the chords of a round hole, midpoint rule; without a coefficient."""
    dz = head_m / steps
    middles = ((i + 0.5) * dz for i in range(steps))
    return sum(
        2.0 * math.sqrt(z * (bore_m - z)) * math.sqrt(2.0 * 9.80665 * (head_m - z)) * dz
        for z in middles
    )


@pytest.mark.parametrize("head_m", [0.001, 0.002])
def test_a_check_hole_gives_what_the_integral_over_its_chords_gives(head_m: float) -> None:
    due = _through_hole(2.0 * head_m) / _through_hole(head_m)
    one, two = (flow_off(CHECK_HOLE, math.log(v), -8.5, WIDE) for v in (50.0, 100.0))
    assert two / one == pytest.approx(due, rel=0.05)


def test_the_usual_check_hole_is_one_of_13_mm_over_350_cm2() -> None:
    """Discharge coefficient 0.6 of a sharp hole: e.g. King and Brater, Handbook of Hydraulics."""
    v_mL, area_m2 = 70.0, 0.035
    due = 0.6e6 * _through_hole(v_mL * 1e-6 / area_m2, bore_m=0.013)
    assert flow_off(CHECK_HOLE, math.log(v_mL), CHECK_HOLE.ln_c_mean, WIDE) == pytest.approx(
        due, rel=0.2
    )


def test_far_above_the_rim_the_pipe_limits_the_flow() -> None:
    """It rises as the head to between Torricelli's 1/2 and Hagen-Poiseuille's 1."""
    low, high = (flow_off(STANDPIPE, math.log(v), 0.0, 2.0) for v in (2_000.0, 4_000.0))
    ln_power = math.log(high / low) / math.log(2.0)
    assert 0.5 <= ln_power <= 1.0


@given(RIMS, st.floats(-2.0, 8.0), st.floats(-10.0, 2.0), st.floats(-3.0, 8.0))
def test_the_flow_is_the_lesser_of_rim_and_pipe_and_a_little_less_where_they_meet(
    rim: Rim, ln_v: float, ln_c: float, ln_p: float
) -> None:
    """By 16 % at the most: 2^(-1/4)."""
    lesser = math.exp(min(ln_c + rim.power * ln_v, ln_p + head_power(rim, ln_v, ln_c)))
    q = flow_off(rim, ln_v, ln_c, ln_p)
    assert 0.84 * lesser <= q <= lesser * (1.0 + 1e-12)


@given(RIMS, st.floats(-2.0, 8.0), st.floats(-10.0, 2.0), st.floats(-3.0, 8.0))
def test_the_slopes_are_those_of_the_flow(rim: Rim, ln_v: float, ln_c: float, ln_p: float) -> None:
    """Central differences as the reference."""
    h = 1e-5
    q, *told = flow_and_slopes(rim, ln_v, ln_c, ln_p)
    assert q == pytest.approx(flow_off(rim, ln_v, ln_c, ln_p), rel=1e-12)
    for k, slope in enumerate(told):
        up = [ln_v, ln_c, ln_p]
        down = [ln_v, ln_c, ln_p]
        up[k] += h
        down[k] -= h
        numeric = (flow_off(rim, *up) - flow_off(rim, *down)) / (2.0 * h)
        assert slope == pytest.approx(numeric, rel=1e-4, abs=1e-8)


@given(RIMS, st.floats(0.05, 50.0), st.floats(1.0, 8.0), st.floats(-10.0, 0.0))
def test_the_pipe_found_for_a_flow_gives_just_that_flow(
    rim: Rim, q_mL_per_s: float, ln_v: float, ln_c: float
) -> None:
    ln_p = pipe_for(rim, q_mL_per_s, ln_v, ln_c)
    if ln_p is None:
        assert math.exp(ln_c + rim.power * ln_v) <= 1.02 * q_mL_per_s
    else:
        assert flow_off(rim, ln_v, ln_c, ln_p) == pytest.approx(q_mL_per_s, rel=1e-9)


def test_a_small_free_surface_has_a_great_factor_and_a_high_head() -> None:
    """A quarter of the surface: c 4^1.5 = 8 times as great, the head of a volume 4 times."""
    far = 1.0 + 4.0 * 100.0 / 1500.0  # of 100 mL against a pipe of 1500 mL
    ln_v, ln_c = math.log(100.0), STANDPIPE.ln_c_mean + math.log(8.0)
    assert head_power(STANDPIPE, ln_v, ln_c) == pytest.approx(PIPE_POWER * math.log(far), rel=1e-9)
