"""The heat balance against closed forms and against differences of itself."""

import math

import pytest

from drainscale.estimation import temperature_priors as prior
from drainscale.estimation.temperature_dynamics import (
    CHURN,
    ENGINE,
    ENGINE_FINAL,
    FLUID,
    HEAT_SIZE,
    LN_COUPLING,
    LN_PACE,
    LN_STRENGTH,
    carry_heat,
    heat_rate_K_per_s,
    heat_step,
)

AIR_C = 15.0


def typical_state() -> list[float]:
    return [22.0, 40.0, -math.log(650.0), -math.log(750.0), 96.0, 0.010, 0.1]


def first_order_state(start_C: float, final_C: float, time_s: float) -> list[float]:
    """A fluid that heats with one time constant: the engine is at its end, nothing churns."""
    coupling = 1.0 / time_s - 1.0 / prior.LOSS_TIME_S
    return [start_C, final_C, math.log(coupling), -20.0, final_C, 0.0, 0.0]


def time_to_reach(target_C: float, step_s: float) -> float:
    x = first_order_state(25.0, 90.0, 1200.0)
    t = 0.0
    while True:
        step = heat_step(x, step_s, 90.0)  # air at the final temperature: no loss from there
        if step.fluid_C >= target_C:
            share = (target_C - x[FLUID]) / (step.fluid_C - x[FLUID])
            return t + share * step_s
        x[FLUID], x[ENGINE] = step.fluid_C, step.engine_C
        t += step_s


# First-order warm-up from 25 to 90 degC, tau 1200 s: t = tau ln((Tinf - T0)/(Tinf - T)), the
# closed form of Newton's law of cooling, evaluated with CPython's math.
@pytest.mark.parametrize(
    ("target_C", "expected_s"), [(35.0, 200.4649), (40.0, 314.8371), (45.0, 441.2697)]
)
def test_a_first_order_warm_up_takes_the_time_of_its_closed_form(
    target_C: float, expected_s: float
) -> None:
    assert time_to_reach(target_C, 1.0) == pytest.approx(expected_s, abs=0.01)


def two_stage_C(t: float, start_C: float, final_C: float, engine_s: float, fluid_s: float) -> float:
    """Closed form of a first-order stage behind another (series of two lags, unequal times)."""
    lag = engine_s * math.exp(-t / engine_s) - fluid_s * math.exp(-t / fluid_s)
    return final_C - (final_C - start_C) * lag / (engine_s - fluid_s)


@pytest.mark.parametrize("step_s", [3.0, 15.0, 30.0])
def test_two_stages_follow_their_closed_form_for_every_step_in_use(step_s: float) -> None:
    x = first_order_state(20.0, 95.0, 600.0)
    x[ENGINE], x[LN_PACE] = 20.0, -math.log(800.0)
    for _ in range(round(900.0 / step_s)):
        step = heat_step(x, step_s, 95.0)
        x[FLUID], x[ENGINE] = step.fluid_C, step.engine_C
    # the loss goes to "air" at 95 degC here, so it acts as a second path of the same final
    coupled = 1.0 / 600.0 - 1.0 / prior.LOSS_TIME_S
    by_engine = two_stage_C(900.0, 20.0, 95.0, 800.0, 600.0)
    by_air = 95.0 - 75.0 * math.exp(-900.0 / 600.0)
    share = coupled * 600.0
    assert x[FLUID] == pytest.approx(share * by_engine + (1.0 - share) * by_air, abs=0.02)


def test_the_rate_is_the_step_divided_by_a_short_time() -> None:
    x = typical_state()
    step = heat_step(x, 0.01, AIR_C)
    assert (step.fluid_C - x[FLUID]) / 0.01 == pytest.approx(heat_rate_K_per_s(x, AIR_C), rel=1e-4)


STATES = [FLUID, ENGINE, LN_COUPLING, LN_PACE, ENGINE_FINAL, CHURN, LN_STRENGTH]


def differences(state: int, h: float) -> tuple[float, float]:
    """Central differences of the new fluid and engine with respect to one state."""
    d = 1e-5
    up, down = typical_state(), typical_state()
    up[state] += d
    down[state] -= d
    a, b = heat_step(up, h, AIR_C), heat_step(down, h, AIR_C)
    return (a.fluid_C - b.fluid_C) / (2 * d), (a.engine_C - b.engine_C) / (2 * d)


@pytest.mark.parametrize("state", STATES)
def test_the_fluids_sensitivities_are_those_of_small_differences(state: int) -> None:
    step = heat_step(typical_state(), 3.0, AIR_C)
    by_fluid, _ = differences(state, 3.0)
    assert step.fluid_by[state] == pytest.approx(by_fluid, rel=0.01, abs=1e-6)


@pytest.mark.parametrize("state", STATES)
def test_the_engines_sensitivities_are_those_of_small_differences(state: int) -> None:
    step = heat_step(typical_state(), 3.0, AIR_C)
    _, by_engine = differences(state, 3.0)
    known = {ENGINE: step.engine_by_engine, LN_PACE: step.engine_by_pace}
    known[ENGINE_FINAL] = step.engine_by_final
    assert known.get(state, 0.0) == pytest.approx(by_engine, rel=0.01, abs=1e-6)


def test_the_covariance_is_carried_as_the_full_matrix_product_would() -> None:
    x = typical_state()
    p = [[0.04 * (i + 1) if i == j else 0.001 for j in range(HEAT_SIZE)] for i in range(HEAT_SIZE)]
    rows = [differences(i, 3.0) for i in range(HEAT_SIZE)]
    a = [[float(i == j) for j in range(HEAT_SIZE)] for i in range(HEAT_SIZE)]
    a[FLUID], a[ENGINE] = [f for f, _ in rows], [e for _, e in rows]
    ap = [[sum(r[k] * p[k][j] for k in range(7)) for j in range(7)] for r in a]
    expected = [[sum(ap[i][k] * a[j][k] for k in range(7)) for j in range(7)] for i in range(7)]
    expected[FLUID][FLUID] += prior.FLUID_WALK_K_PER_SQRT_S**2 * 3.0
    expected[LN_STRENGTH][LN_STRENGTH] += prior.STRENGTH_WALK_PER_SQRT_S**2 * 3.0

    carry_heat(x, p, 3.0, AIR_C)

    for row, expected_row in zip(p, expected, strict=True):
        assert row == pytest.approx(expected_row, rel=0.01, abs=1e-5)
