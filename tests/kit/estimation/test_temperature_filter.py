"""The filter against closed forms of filters that it contains as special cases."""

import math

import pytest

from drainscale.estimation import temperature_priors as prior
from drainscale.estimation.temperature_dynamics import ENGINE, FLUID, LN_STRENGTH
from drainscale.estimation.temperature_filter import (
    LN_LAG,
    RATIO,
    SENSOR,
    SIZE,
    SKIN,
    WarmUpFilter,
)
from drainscale.quantities.job import PanSensor

SENSOR_PRIOR = PanSensor(
    surface_ratio=0.90, surface_ratio_u=0.03, lag_s=25.0, lag_u_s=6.0, sensor_u_C=0.7
)
AIR_C = 18.0
U_K = 0.06


@pytest.fixture
def idle() -> WarmUpFilter:
    return WarmUpFilter(SENSOR_PRIOR, 0.0, 18.5, AIR_C)


def run(target: WarmUpFilter, until_s: float, pan_C: float) -> None:
    while target.t < until_s:
        target.predict(target.t + 3.0, AIR_C)
        target.update_pan(pan_C, U_K)


def smallest_pivot(p: list[list[float]]) -> float:
    """Smallest pivot of Gaussian elimination: above zero for a positive definite matrix."""
    a = [row[:] for row in p]
    pivots = []
    for k in range(len(a)):
        pivots.append(a[k][k])
        for i in range(k + 1, len(a)):
            factor = a[i][k] / a[k][k]
            a[i] = [x - factor * y for x, y in zip(a[i], a[k], strict=True)]
    return min(pivots)


def test_a_settled_skin_puts_the_fluid_where_the_ratio_says() -> None:
    warm = WarmUpFilter(SENSOR_PRIOR, 0.0, 36.0, AIR_C)
    assert warm.fluid_C == pytest.approx(AIR_C + 18.0 / 0.90)
    # u by the law of propagation (JCGM 100:2008, 5.1.2): sensor, ratio, unsettled, noise
    parts = (0.7 / 0.9, 20.0 * 0.03 / 0.9, prior.UNSETTLED_U_K, prior.READING_U_K / 0.9)
    assert warm.fluid_u_K == pytest.approx(math.sqrt(sum(u * u for u in parts)))


def test_a_reference_is_weighed_by_inverse_variances(idle: WarmUpFilter) -> None:
    before_C, before_u = idle.fluid_C, idle.fluid_u_K
    idle.update_fluid(before_C + 1.0, 1.0)
    # two independent readings of one quantity: textbook weighted mean (JCGM 100:2008, H.10 way)
    share = before_u**2 / (before_u**2 + 1.0)
    assert idle.fluid_C == pytest.approx(before_C + share)
    assert idle.fluid_u_K == pytest.approx(before_u * math.sqrt(1.0 - share))


def test_an_idle_fluid_that_is_read_directly_reaches_the_steady_gain_of_a_random_walk(
    idle: WarmUpFilter,
) -> None:
    # local level model: steady predicted variance (q + sqrt(q^2 + 4 q R)) / 2, the scalar
    # Riccati equation of the Kalman filter (textbook, from memory; solved by hand)
    step_s, u_K = 3.0, 0.05
    for _ in range(4000):
        idle.predict(idle.t + step_s, AIR_C)
        idle.update_fluid(18.0, u_K)
    idle.predict(idle.t + step_s, AIR_C)
    q, r = prior.IDLE_WALK_K_PER_SQRT_S**2 * step_s, u_K * u_K
    assert idle.p[FLUID][FLUID] == pytest.approx(0.5 * (q + math.sqrt(q * q + 4 * q * r)), rel=1e-3)


def test_while_idle_nothing_is_learnt_about_ratio_lag_and_sensor(idle: WarmUpFilter) -> None:
    before = [(idle.x[i], idle.p[i][i]) for i in (LN_LAG, SENSOR)]
    ratio = idle.x[RATIO]
    run(idle, 120.0, 18.5)
    run(idle, 300.0, 14.0)  # cold fluid mixes in
    assert [(idle.x[i], idle.p[i][i]) for i in (LN_LAG, SENSOR)] == before
    assert idle.x[RATIO] == ratio


def test_cold_fluid_mixing_in_is_followed(idle: WarmUpFilter) -> None:
    run(idle, 120.0, 18.5)
    run(idle, 420.0, 14.0)
    assert idle.fluid_C == pytest.approx(AIR_C - 4.0 / 0.90, abs=0.2)


def test_a_night_s_soak_shows_the_sensor_error() -> None:
    high = WarmUpFilter(SENSOR_PRIOR, 0.0, AIR_C + prior.SOAK_K + 1.0, AIR_C)
    run(high, 60.0, AIR_C + prior.SOAK_K + 1.0)
    high.soak(AIR_C)
    assert 0.2 < high.x[SENSOR] < 0.9  # part of the surplus 1 K, never all of it
    assert math.sqrt(high.p[SENSOR][SENSOR]) < 0.6


def test_a_vehicle_driven_today_teaches_nothing_about_the_sensor() -> None:
    driven = WarmUpFilter(SENSOR_PRIOR, 0.0, AIR_C + 12.0, AIR_C)
    driven.soak(AIR_C)
    assert driven.x[SENSOR] == 0.0


def test_the_less_likely_the_soak_the_less_it_teaches() -> None:
    def sensor_u_K(gap_K: float) -> float:
        found = WarmUpFilter(SENSOR_PRIOR, 0.0, AIR_C + gap_K, AIR_C)
        found.soak(AIR_C)
        return math.sqrt(found.p[SENSOR][SENSOR])

    likely, doubtful, driven = (sensor_u_K(gap_K) for gap_K in (0.4, 3.2, 6.0))
    assert likely + 0.03 < doubtful < driven - 0.03
    assert driven == pytest.approx(0.7, abs=0.01)


def test_a_cold_engine_starts_as_warm_as_the_fluid(idle: WarmUpFilter) -> None:
    idle.start(AIR_C)
    assert idle.x[ENGINE] == idle.x[FLUID]
    assert idle.running


def test_a_stopped_engine_keeps_its_heat_for_the_next_start(idle: WarmUpFilter) -> None:
    idle.start(AIR_C)
    idle.predict(600.0, AIR_C)
    hot_C = idle.x[ENGINE]
    idle.stop()
    idle.predict(900.0, AIR_C)
    idle.start(AIR_C)
    # Newton's law of cooling over 300 s
    keep = math.exp(-300.0 / prior.COOLING_TIME_S)
    assert idle.x[ENGINE] == pytest.approx(AIR_C + keep * (hot_C - AIR_C), abs=0.5)


def agree(target: WarmUpFilter, blocks: int, off_K: float) -> None:
    """Feed readings that lie ``off_K`` from what the filter expects."""
    for _ in range(blocks):
        target.predict(target.t + 3.0, AIR_C)
        target.update_pan(target.x[SKIN] + target.x[SENSOR] + off_K, U_K)


def test_a_stop_before_any_start_changes_nothing() -> None:
    warm = WarmUpFilter(SENSOR_PRIOR, 0.0, 30.0, AIR_C)
    warm.stop()
    assert warm.rate_K_per_s(AIR_C) == 0.0


def test_innovations_on_one_side_let_go_of_the_heating_strength(idle: WarmUpFilter) -> None:
    idle.start(AIR_C)
    agree(idle, 150, 0.0)
    calm = idle.copy()
    agree(idle, 12, 0.2)
    agree(calm, 12, 0.0)
    assert idle.p[LN_STRENGTH][LN_STRENGTH] > 1.5 * calm.p[LN_STRENGTH][LN_STRENGTH]


def test_one_wild_reading_hardly_moves_the_fluid(idle: WarmUpFilter) -> None:
    run(idle, 60.0, 18.5)
    idle.start(AIR_C)
    idle.predict(63.0, AIR_C)
    before_C = idle.fluid_C
    idle.update_pan(38.5, U_K)
    assert abs(idle.fluid_C - before_C) < 0.3


def test_the_covariance_stays_symmetric_and_positive_over_an_hour(idle: WarmUpFilter) -> None:
    run(idle, 600.0, 18.5)
    idle.start(AIR_C)
    while idle.t < 4200.0:
        idle.predict(idle.t + 3.0, AIR_C)
        idle.update_pan(18.5 + 55.0 * (1.0 - math.exp(-(idle.t - 600.0) / 1500.0)), U_K)
    skew = max(abs(idle.p[i][j] - idle.p[j][i]) for i in range(SIZE) for j in range(SIZE))
    assert skew < 1e-9
    assert smallest_pivot(idle.p) > 0.0


def carried(x: list[float], running: WarmUpFilter) -> list[float]:
    """Carry the state ``x`` on by 3 s with the twin's model."""
    twin = running.copy()
    twin.x = x[:]
    twin.predict(running.t + 3.0, AIR_C)
    return twin.x


def test_the_covariance_is_carried_as_the_full_jacobian_would(idle: WarmUpFilter) -> None:
    run(idle, 60.0, 18.5)
    idle.start(AIR_C)
    agree(idle, 40, 0.0)
    jacobian = [[0.0] * SIZE for _ in range(SIZE)]
    for j in range(SIZE):
        up, down = idle.x[:], idle.x[:]
        up[j], down[j] = up[j] + 1e-5, down[j] - 1e-5
        for i, (a, b) in enumerate(zip(carried(up, idle), carried(down, idle), strict=True)):
            jacobian[i][j] = (a - b) / 2e-5
    p = idle.p
    ap = [[sum(r[k] * p[k][j] for k in range(SIZE)) for j in range(SIZE)] for r in jacobian]
    skin = jacobian[SKIN]
    expected = [sum(ap[i][k] * skin[k] for k in range(SIZE)) for i in range(SIZE)]
    expected[SKIN] += prior.SKIN_WALK_K_PER_SQRT_S**2 * 3.0

    idle.predict(idle.t + 3.0, AIR_C)

    assert idle.p[SKIN] == pytest.approx(expected, rel=0.02, abs=2e-4)


def test_a_twin_goes_its_own_way(idle: WarmUpFilter) -> None:
    twin = idle.copy()
    run(twin, 60.0, 25.0)
    assert idle.t == 0.0
    assert idle.x[SKIN] == 18.5
    assert idle.p != twin.p


def test_a_sensor_without_any_uncertainty_is_taken_as_nearly_perfect() -> None:
    sure = WarmUpFilter(PanSensor(1.0, 0.0, 0.0, 0.0, 0.0), 0.0, 20.0, AIR_C)
    run(sure, 60.0, 20.0)
    assert sure.fluid_C == pytest.approx(20.0, abs=0.02)
    assert 0.0 < sure.fluid_u_K < 0.1
