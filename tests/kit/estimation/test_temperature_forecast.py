"""Crossing times along paths whose answer is known, and the path against trials."""

import math
import random
from statistics import NormalDist, fmean, stdev

import pytest

from drainscale.estimation.temperature_dynamics import FLUID, HEAT_SIZE, heat_step
from drainscale.estimation.temperature_forecast import (
    HORIZON_S,
    PathPoint,
    along,
    crossing,
    heating_path,
    normal_cdf,
    p_reached_by,
)

Z95 = 1.6449  # 95 % quantile of the standard normal distribution; any statistical table


def straight(u_K: float = 0.5, until_s: int = 1000) -> list[PathPoint]:
    """From 20 degC at 0 s up by 0.04 K/s."""
    return [PathPoint(float(t), 20.0 + 0.04 * t, u_K) for t in range(0, until_s, 10)]


@pytest.mark.parametrize("z", [-3.0, -1.0, 0.0, 0.5, 1.6449, 4.0])
def test_the_distribution_function_is_the_standard_librarys(z: float) -> None:
    assert normal_cdf(z) == pytest.approx(NormalDist().cdf(z), abs=1e-12)


def test_on_a_straight_path_the_interval_is_the_fluids_divided_by_the_rate() -> None:
    found = crossing(straight(), 35.0, now=100.0)
    half_s = Z95 * 0.5 / 0.04
    assert found.best_s == pytest.approx(375.0)
    assert found.interval_s == pytest.approx((375.0 - half_s, 375.0 + half_s), abs=0.01)


def test_a_crossing_in_the_past_keeps_its_time() -> None:
    assert crossing(straight(), 35.0, now=900.0).best_s == pytest.approx(375.0)


def test_where_the_limit_is_not_reached_nothing_is_said() -> None:
    found = crossing(straight(), 80.0, now=0.0)
    assert (found.best_s, found.interval_s) == (None, None)


def test_where_only_the_late_end_is_not_reached_the_interval_is_left_out() -> None:
    found = crossing(straight(u_K=4.0), 59.0, now=0.0)
    assert found.best_s == pytest.approx(975.0)
    assert found.interval_s is None


def test_beyond_an_hour_ahead_nothing_is_said() -> None:
    path = [PathPoint(0.0, 20.0, 0.5), PathPoint(5000.0, 40.0, 0.5)]
    assert crossing(path, 39.0, now=0.0).best_s is None
    assert crossing(path, 39.0, now=4750.0 - HORIZON_S).best_s == pytest.approx(4750.0)


def test_a_limit_already_passed_when_the_path_begins_was_never_seen_crossed() -> None:
    assert crossing(straight(), 19.0, now=100.0).best_s is None


def test_of_two_rises_above_the_limit_the_last_one_counts() -> None:
    path = [PathPoint(0.0, 34.0, 0.1), PathPoint(10.0, 36.0, 0.1), PathPoint(20.0, 34.0, 0.1),
            PathPoint(30.0, 36.0, 0.1)]  # fmt: skip
    assert crossing(path, 35.0, now=20.0).best_s == pytest.approx(25.0)


def test_a_fluid_that_fell_below_again_has_its_crossing_ahead() -> None:
    path = [PathPoint(0.0, 34.0, 0.1), PathPoint(10.0, 36.0, 0.1), PathPoint(20.0, 34.0, 0.1)]
    assert crossing(path, 35.0, now=20.0).best_s is None


def test_a_path_is_read_between_its_points_and_stands_at_its_ends() -> None:
    assert along(straight(), 375.0).fluid_C == pytest.approx(35.0)
    assert along(straight(), -5.0).fluid_C == 20.0
    assert along(straight(), 5000.0).fluid_C == pytest.approx(59.6)


@pytest.mark.parametrize(("sigma", "p"), [(-Z95, 0.05), (0.0, 0.5), (Z95, 0.95)])
def test_the_probability_of_having_crossed_is_that_of_the_fluid(sigma: float, p: float) -> None:
    then = 375.0 + sigma * 0.5 / 0.04
    assert p_reached_by(straight(), 35.0, then) == pytest.approx(p, abs=1e-4)


def drawn(rng: random.Random, x: list[float], u: list[float]) -> float:
    """One trial: a state drawn from the prior, 300 s of heating in steps of 5 s."""
    state = [rng.gauss(m, s) for m, s in zip(x, u, strict=True)]
    for _ in range(60):
        step = heat_step(state, 5.0, 15.0)
        state[:2] = [step.fluid_C, step.engine_C]
    return state[FLUID]


def test_the_path_spreads_as_trials_drawn_from_the_state_do() -> None:
    # propagation of distributions by Monte Carlo (JCGM 101:2008) against first-order propagation
    x = [25.0, 45.0, -math.log(650.0), -math.log(750.0), 96.0, 0.010, 0.0]
    u = [0.5, 4.0, 0.1, 0.1, 4.0, 0.002, 0.05]
    p = [[u_i * u_i if i == j else 0.0 for j in range(HEAT_SIZE)] for i, u_i in enumerate(u)]
    path = heating_path(0.0, x, p, 15.0, 90.0)
    rng = random.Random(20)
    trials = [drawn(rng, x, u) for _ in range(1500)]
    end = along(path, 300.0)
    assert end.fluid_C == pytest.approx(fmean(trials), abs=0.15)
    # the path also holds what the strength may do on the way (random walk), hence wider
    assert stdev(trials) * 0.95 < end.u_K < stdev(trials) * 1.6


def test_the_path_ends_once_the_fluid_is_surely_above() -> None:
    x = [25.0, 60.0, -math.log(650.0), -math.log(750.0), 96.0, 0.010, 0.0]
    p = [[1e-4 if i == j else 0.0 for j in range(HEAT_SIZE)] for i in range(HEAT_SIZE)]
    path = heating_path(50.0, x, p, 15.0, 45.0)
    assert path[0].t == 50.0
    assert path[-1].fluid_C - 2.5 * path[-1].u_K > 45.0
    assert path[-2].fluid_C - 2.5 * path[-2].u_K <= 45.0


def test_the_path_ends_an_hour_ahead_where_the_limit_is_never_reached() -> None:
    x = [25.0, 60.0, -math.log(650.0), -math.log(750.0), 96.0, 0.010, 0.0]
    p = [[1e-4 if i == j else 0.0 for j in range(HEAT_SIZE)] for i in range(HEAT_SIZE)]
    assert heating_path(0.0, x, p, 15.0, 150.0)[-1].t == pytest.approx(HORIZON_S, abs=30.0)
