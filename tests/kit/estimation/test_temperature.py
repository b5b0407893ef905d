"""The whole estimator on made-up services whose fluid follows closed forms.

The made-up fluid is not the filter's own model: two first-order stages in a row (closed
form) without churn or loss. Clamp, sensor error and noise are drawn from the job's priors.
"""

import math
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from statistics import NormalDist, fmean

import pytest

from drainscale.estimation.temperature import FluidTemperature, TemperatureEstimate
from drainscale.estimation.temperature_forecast import WindowForecast
from drainscale.quantities.job import PanSensor

SENSOR = PanSensor(
    surface_ratio=0.90, surface_ratio_u=0.03, lag_s=25.0, lag_u_s=6.0, sensor_u_C=0.7
)
WINDOW_C = (35.0, 45.0)
START_S = 300.0
END_S = 1500.0


def warm_up_C(
    run_s: float, start_C: float, final_C: float, engine_s: float, fluid_s: float
) -> float:
    """Two first-order stages in a row, closed form (as a thermostat behind an engine block)."""
    if run_s <= 0.0:
        return start_C
    lag = engine_s * math.exp(-run_s / engine_s) - fluid_s * math.exp(-run_s / fluid_s)
    return final_C - (final_C - start_C) * lag / (engine_s - fluid_s)


@dataclass
class Service:
    """One made-up service: its true fluid and what the sensors say, by 1 s."""

    fluid_C: list[float]
    pan_C: list[float]
    board_C: list[float]

    def reached_s(self, limit_C: float) -> float:
        return next(float(t) for t, fluid in enumerate(self.fluid_C) if fluid >= limit_C)

    def samples(self, target: FluidTemperature, until_s: float, start: float = 0.0) -> None:
        for t in range(int(start), int(until_s)):
            target.board(float(t), self.board_C[t])
            target.pan(float(t), self.pan_C[t])


def make_service(
    seed: int, fluid: Callable[[float], float] | None = None, air_C: float | None = None
) -> Service:
    """Draw a vehicle and a clamp; ``fluid`` puts another course in place of the drawn one."""
    rng = random.Random(seed)
    drawn_C = rng.uniform(8.0, 24.0)
    air_C = drawn_C if air_C is None else air_C
    start_C, final_C = air_C + rng.uniform(0.0, 0.8), rng.uniform(80.0, 100.0)
    engine_s, fluid_s = rng.uniform(500.0, 1000.0), rng.uniform(200.0, 450.0)
    ratio, lag_s = rng.gauss(0.90, 0.03), max(8.0, rng.gauss(25.0, 6.0))
    error_K, board_error_K = rng.gauss(0.0, 0.7), rng.gauss(0.0, 0.5)
    made = Service([], [], [])
    skin_C = air_C + ratio * ((fluid(-START_S) if fluid else start_C) - air_C)
    for t in range(int(END_S)):
        run_s = t - START_S
        fluid_C = fluid(run_s) if fluid else warm_up_C(run_s, start_C, final_C, engine_s, fluid_s)
        skin_C += (air_C + ratio * (fluid_C - air_C) - skin_C) / lag_s
        made.fluid_C.append(fluid_C)
        made.pan_C.append(round((skin_C + error_K + rng.gauss(0.0, 0.12)) * 4.0) / 4.0)
        made.board_C.append(round((air_C + board_error_K + rng.gauss(0.0, 0.1)) * 16.0) / 16.0)
    return made


def known(estimate: TemperatureEstimate | None) -> TemperatureEstimate:
    assert estimate is not None
    return estimate


@pytest.fixture
def service() -> Service:
    return make_service(7)


@pytest.fixture
def kit() -> FluidTemperature:
    return FluidTemperature(SENSOR, WINDOW_C)


@pytest.fixture
def warming(service: Service, kit: FluidTemperature) -> FluidTemperature:
    """Five minutes after the start, told."""
    service.samples(kit, START_S)
    kit.engine_started(START_S)
    service.samples(kit, 600.0, START_S)
    return kit


# --- many services: intervals hold what they promise -------------------------------------


@dataclass
class Outcome:
    """What came of one service: forecasts made two minutes ahead, and the fluid by 10 s."""

    opens: WindowForecast
    opened_s: float
    closes: WindowForecast
    closed_s: float
    fluids: list[tuple[float, float]]  # error and u, K
    opened_C: float | None  # the true fluid when P(in window) first was 95 %


def play(seed: int) -> Outcome:
    service, kit = make_service(seed), FluidTemperature(SENSOR, WINDOW_C)
    opened_s, closed_s = (service.reached_s(limit_C) for limit_C in WINDOW_C)
    made: dict[float, WindowForecast] = {}
    fluids: list[tuple[float, float]] = []
    cue_C: float | None = None
    ask_s = {float(int(opened_s - 120.0)), float(int(closed_s - 120.0))}
    for t in range(int(closed_s)):
        service.samples(kit, t + 1.0, float(t))
        if float(t) in ask_s:
            made[float(t)] = kit.forecast(float(t))
        if t > START_S + 120.0 and t % 10 == 0:
            now = known(kit.at(float(t)))
            fluids.append((now.fluid_C - service.fluid_C[t], now.u_C))
        if cue_C is None and kit.p_in_window(float(t)) >= 0.95:
            cue_C = service.fluid_C[t]
    opens, closes = made[min(ask_s)], made[max(ask_s)]
    return Outcome(opens, opened_s, closes, closed_s, fluids, cue_C)


@pytest.fixture(scope="module")
def outcomes() -> list[Outcome]:
    return [play(seed) for seed in range(100, 140)]


def share_held(cases: Iterator[tuple[tuple[float, float] | None, float]]) -> float:
    return fmean(iv is not None and iv[0] <= truth <= iv[1] for iv, truth in cases)


# Of 40 services a 90 % interval holds in 36 on average; 31 or fewer has probability 1.6 %
# (binomial distribution), so a pass says that the intervals are not much too narrow.
def test_nine_in_ten_opening_intervals_hold(outcomes: list[Outcome]) -> None:
    assert share_held((o.opens.opens_90, o.opened_s) for o in outcomes) >= 32 / 40


def test_nine_in_ten_closing_intervals_hold(outcomes: list[Outcome]) -> None:
    assert share_held((o.closes.closes_90, o.closed_s) for o in outcomes) >= 32 / 40


def test_the_opening_intervals_are_no_wider_than_they_must_be(outcomes: list[Outcome]) -> None:
    widths = [o.opens.opens_90[1] - o.opens.opens_90[0] for o in outcomes if o.opens.opens_90]
    assert fmean(widths) < 130.0


def test_the_fluid_is_within_two_u_nearly_always(outcomes: list[Outcome]) -> None:
    held = [abs(error) <= 2.0 * u for o in outcomes for error, u in o.fluids]
    assert 0.90 <= fmean(held) < 1.0


def test_the_fluid_is_not_biased(outcomes: list[Outcome]) -> None:
    # mean of 40 services with u = 0.8 K each: 0.13 K; three of them
    assert abs(fmean(fmean(error for error, _ in o.fluids) for o in outcomes)) < 0.4


def test_the_open_cue_seldom_comes_too_early(outcomes: list[Outcome]) -> None:
    # meant: 2.5 to 5 %; of 40, six or more at 5 % has probability 1.4 % (binomial)
    assert sum(o.opened_C is not None and o.opened_C < WINDOW_C[0] for o in outcomes) <= 5


def test_the_open_cue_comes_while_most_of_the_window_is_left(outcomes: list[Outcome]) -> None:
    cues = [o.opened_C for o in outcomes if o.opened_C is not None]
    assert len(cues) >= 38
    assert fmean(cues) < WINDOW_C[0] + 2.5


# --- probabilities and guard bands ---------------------------------------------------------


def test_the_guard_band_for_95_percent_is_1_645_u(warming: FluidTemperature) -> None:
    # one-sided 95 %: JCGM 106:2012, 7.2; the factor from the normal distribution
    now = known(warming.at(600.0))
    limit_C = now.fluid_C + 1.6449 * now.u_C
    assert warming.p_below(600.0, limit_C) == pytest.approx(0.95, abs=1e-4)


def test_below_in_and_above_the_window_make_one(warming: FluidTemperature) -> None:
    now = known(warming.at(600.0))
    normal = NormalDist(now.fluid_C, now.u_C)
    expected = normal.cdf(WINDOW_C[1]) - normal.cdf(WINDOW_C[0])
    assert warming.p_in_window(600.0) == pytest.approx(expected, abs=1e-9)


def test_the_closing_interval_is_that_of_the_closing_probability(
    warming: FluidTemperature,
) -> None:
    interval = warming.forecast(600.0).closes_90
    assert interval is not None
    assert warming.p_closes_after(600.0, interval[0]) == pytest.approx(0.95, abs=0.005)
    assert warming.p_closes_after(600.0, interval[1]) == pytest.approx(0.05, abs=0.005)


def test_the_later_the_less_likely_is_the_window_still_open(warming: FluidTemperature) -> None:
    chances = [warming.p_closes_after(600.0, 600.0 + 30.0 * i) for i in range(30)]
    assert chances == sorted(chances, reverse=True)
    assert chances[0] > 0.99 > 0.01 > chances[-1]


def test_the_foreseen_fluid_is_at_the_limit_when_the_forecast_says(
    warming: FluidTemperature,
) -> None:
    opens_s = warming.forecast(600.0).opens_s
    assert opens_s is not None
    assert known(warming.ahead(600.0, opens_s)).fluid_C == pytest.approx(WINDOW_C[0], abs=0.01)


def test_the_rate_is_that_of_the_fluid(warming: FluidTemperature, service: Service) -> None:
    rate = warming.rate_K_per_s(600.0)
    assert rate is not None
    assert rate == pytest.approx((service.fluid_C[610] - service.fluid_C[590]) / 20.0, rel=0.15)


# --- forecasts: past, never, far --------------------------------------------------------------


def test_once_past_the_opening_keeps_its_time(service: Service, kit: FluidTemperature) -> None:
    opened_s, closed_s = (service.reached_s(limit_C) for limit_C in WINDOW_C)
    service.samples(kit, closed_s)
    forecast = kit.forecast(closed_s)
    assert forecast.opens_s is not None
    assert forecast.opens_90 is not None
    assert forecast.opens_90[0] < opened_s < forecast.opens_90[1]
    assert forecast.opens_s < closed_s - 60.0


def test_a_window_that_no_idling_engine_reaches_stays_unknown(service: Service) -> None:
    kit = FluidTemperature(SENSOR, (122.0, 130.0))
    service.samples(kit, 900.0)
    forecast = kit.forecast(900.0)
    assert (forecast.opens_s, forecast.opens_90, forecast.closes_s) == (None, None, None)


def test_before_the_engine_runs_nothing_is_forecast(
    service: Service, kit: FluidTemperature
) -> None:
    service.samples(kit, 250.0)
    assert kit.forecast(250.0) == WindowForecast(250.0, None, None, None, None)
    assert known(kit.at(250.0)).fluid_C == pytest.approx(service.fluid_C[250], abs=2.0)


def test_the_soak_narrows_the_fluid_before_the_start(
    service: Service, kit: FluidTemperature
) -> None:
    service.samples(kit, 25.0)
    before = known(kit.at(25.0))
    service.samples(kit, 60.0, 25.0)
    assert known(kit.at(60.0)).u_C < 0.8 * before.u_C


def test_with_no_reading_at_all_nothing_is_known(kit: FluidTemperature) -> None:
    assert kit.at(5.0) is None
    assert kit.rate_K_per_s(5.0) is None
    assert math.isnan(kit.p_in_window(5.0))
    assert math.isnan(kit.p_closes_after(5.0, 10.0))
    assert not kit.p_in_window(5.0) >= 0.95
    assert not kit.p_below(5.0, 45.0) < 0.95


# --- the start and the rise --------------------------------------------------------------------


def test_untold_the_rise_is_found_after_the_start(service: Service, kit: FluidTemperature) -> None:
    service.samples(kit, START_S + 150.0)
    assert kit.rise_s is not None
    assert kit.rise_known_s is not None
    assert START_S < kit.rise_s < kit.rise_known_s < START_S + 150.0


def test_before_the_start_there_is_no_rise(service: Service, kit: FluidTemperature) -> None:
    service.samples(kit, START_S)
    assert kit.rise_s is None


@pytest.mark.parametrize("off_s", [-10.0, 10.0])
def test_ten_seconds_early_or_late_hardly_move_the_forecast(service: Service, off_s: float) -> None:
    said = []
    for told_s in (START_S, START_S + off_s):
        kit = FluidTemperature(SENSOR, WINDOW_C)
        service.samples(kit, told_s)
        kit.engine_started(told_s)
        service.samples(kit, 600.0, told_s)
        said.append(kit.forecast(600.0).opens_s)
    assert said[0] is not None
    assert said[1] == pytest.approx(said[0], abs=12.0)


def test_a_start_told_before_the_first_reading_counts(
    service: Service, kit: FluidTemperature
) -> None:
    kit.engine_started(0.0)
    service.samples(kit, 60.0)
    assert kit.forecast(60.0).opens_s is not None


def test_of_two_tellings_the_first_counts(service: Service) -> None:
    once, twice = FluidTemperature(SENSOR, WINDOW_C), FluidTemperature(SENSOR, WINDOW_C)
    for kit in (once, twice):
        service.samples(kit, START_S)
        kit.engine_started(START_S)
        service.samples(kit, START_S + 20.0, START_S)
    twice.engine_started(START_S + 20.0)
    for kit in (once, twice):
        service.samples(kit, 600.0, START_S + 20.0)
    assert once.forecast(600.0) == twice.forecast(600.0)


def test_its_own_rise_told_back_does_not_prove_it(kit: FluidTemperature) -> None:
    made = make_service(3, lambda run_s: 12.0 + 0.05 * min(120.0, max(0.0, run_s)), air_C=12.0)
    made.samples(kit, START_S + 100.0)
    assert kit.rise_s is not None
    kit.engine_started(kit.rise_s)
    made.samples(kit, START_S + 400.0, START_S + 100.0)
    assert kit.rise_s is None


def test_warm_fluid_filled_in_is_taken_back_when_the_pan_stands(kit: FluidTemperature) -> None:
    def filled(run_s: float) -> float:
        return 12.0 + 6.0 * min(1.0, max(0.0, run_s / 120.0))

    made = make_service(3, filled, air_C=12.0)
    made.samples(kit, START_S + 100.0)
    assert kit.rise_s is not None  # six kelvin in two minutes look like an engine
    made.samples(kit, START_S + 400.0, START_S + 100.0)
    assert kit.rise_s is None
    assert abs(known(kit.at(START_S + 400.0)).fluid_C - 18.0) < 1.5
    assert kit.forecast(START_S + 400.0).opens_s is None


def test_a_clamp_put_on_a_warm_pan_is_no_engine(kit: FluidTemperature) -> None:
    for t in range(700):
        kit.board(float(t), 15.0)
        kit.pan(float(t), round((27.0 - 11.0 * math.exp(-t / 25.0)) * 4.0) / 4.0)
    assert kit.rise_s is None
    assert known(kit.at(700.0)).fluid_C == pytest.approx(15.0 + 12.0 / 0.9, abs=0.5)


def test_told_that_it_was_the_filling_the_rise_is_forgotten(
    service: Service, kit: FluidTemperature
) -> None:
    service.samples(kit, START_S + 150.0)
    kit.forget_rise()
    assert kit.rise_s is None
    assert kit.forecast(START_S + 150.0).opens_s is None


# --- faults -------------------------------------------------------------------------------------


def test_in_a_fault_the_model_carries_on_with_a_growing_u(warming: FluidTemperature) -> None:
    before, later = known(warming.at(600.0)), known(warming.at(700.0))
    warming.pan_fault(600.5)
    assert later.fluid_C > before.fluid_C + 2.0
    assert later.u_C > before.u_C


def test_after_two_minutes_of_fault_nothing_is_said(warming: FluidTemperature) -> None:
    for t in range(600, 731):
        warming.pan_fault(float(t))
    assert warming.at(719.0) is not None
    assert warming.at(720.0) is None
    assert warming.forecast(720.0).opens_s is None
    assert math.isnan(warming.p_in_window(720.0))


def test_after_a_fault_it_recovers_by_itself(warming: FluidTemperature, service: Service) -> None:
    service.samples(warming, 860.0, 800.0)
    now = known(warming.at(860.0))
    assert abs(now.fluid_C - service.fluid_C[860]) <= 2.0 * now.u_C + 0.5


def test_where_u_is_above_five_kelvin_nothing_is_said(service: Service) -> None:
    vague = PanSensor(
        surface_ratio=0.9, surface_ratio_u=0.0, lag_s=25.0, lag_u_s=0.0, sensor_u_C=9.0
    )
    kit = FluidTemperature(vague, WINDOW_C)
    service.samples(kit, 20.0)  # before the soak has helped
    assert kit.at(20.0) is None


def test_readings_that_no_pan_can_have_are_left_out(
    service: Service, kit: FluidTemperature
) -> None:
    twin = FluidTemperature(SENSOR, WINDOW_C)
    for t in range(500):
        for target in (kit, twin):
            service.samples(target, t + 1.0, float(t))
        kit.pan(t + 0.5, 1372.0)
    assert known(kit.at(500.0)).fluid_C == known(twin.at(500.0)).fluid_C


def test_a_spike_within_a_block_is_left_out(service: Service, kit: FluidTemperature) -> None:
    twin = FluidTemperature(SENSOR, WINDOW_C)
    for t in range(600):
        for target in (kit, twin):
            service.samples(target, t + 1.0, float(t))
        if t % 60 == 30:
            kit.pan(t + 0.5, 85.0)
    assert known(kit.at(600.0)).fluid_C == pytest.approx(known(twin.at(600.0)).fluid_C, abs=0.1)


# --- reference, board, stop ---------------------------------------------------------------------


def test_a_reference_narrows_and_pulls(warming: FluidTemperature, service: Service) -> None:
    before = known(warming.at(600.0))
    warming.reference(600.0, before.fluid_C + 2.0)
    after = known(warming.at(600.0))
    assert before.fluid_C + 0.3 < after.fluid_C < before.fluid_C + 1.9
    assert after.u_C < 0.9 * before.u_C


def test_a_reference_moves_the_past_crossing_too(service: Service, kit: FluidTemperature) -> None:
    then = service.reached_s(38.0)
    service.samples(kit, then)
    before_s = kit.forecast(then).opens_s
    kit.reference(then, known(kit.at(then)).fluid_C + 1.5)
    after_s = kit.forecast(then).opens_s
    assert before_s is not None
    assert after_s is not None
    assert after_s < before_s - 5.0


def test_a_reference_narrows_the_past_crossing_too(service: Service, kit: FluidTemperature) -> None:
    then = service.reached_s(40.0)
    service.samples(kit, then)
    before = kit.forecast(then).opens_90
    kit.reference(then, known(kit.at(then)).fluid_C)
    after = kit.forecast(then).opens_90
    assert before is not None
    assert after is not None
    assert after[1] - after[0] < 0.9 * (before[1] - before[0])


def test_a_reference_before_any_reading_is_harmless(kit: FluidTemperature) -> None:
    kit.reference(1.0, 20.0)
    assert kit.at(1.0) is None


def test_without_a_cold_junction_it_still_works(service: Service, kit: FluidTemperature) -> None:
    for t in range(900):
        kit.pan(float(t), service.pan_C[t])
    now = known(kit.at(900.0))
    assert abs(now.fluid_C - service.fluid_C[899]) < 2.0 * now.u_C


def test_once_the_engine_stands_the_fluid_cools_and_nothing_is_forecast(
    warming: FluidTemperature,
) -> None:
    hot_C = known(warming.at(600.0)).fluid_C
    warming.engine_stopped(600.0)
    assert warming.forecast(600.0) == WindowForecast(600.0, None, None, None, None)
    assert warming.rise_s is None
    rate = warming.rate_K_per_s(600.0)
    assert rate is not None
    assert rate < 0.0
    assert known(warming.at(700.0)).fluid_C < hot_C


def test_the_time_to_cool_is_that_of_newtons_law(
    warming: FluidTemperature, service: Service
) -> None:
    warming.engine_stopped(600.0)
    now_C = known(warming.at(600.0)).fluid_C
    half_s = warming.cools_to_s(600.0, 0.5 * (now_C + fmean(service.board_C[:40])))
    assert half_s is not None
    # half way to the air takes tau ln 2; tau is a prior of 4000 s
    assert half_s - 600.0 == pytest.approx(4000.0 * math.log(2.0), rel=0.05)
    assert warming.cools_to_s(600.0, now_C + 1.0) == 600.0
    assert warming.cools_to_s(600.0, -20.0) is None


def test_a_second_start_after_cooling_is_found_again() -> None:
    def twice(run_s: float) -> float:
        first = warm_up_C(min(run_s, 400.0), 18.0, 90.0, 700.0, 300.0)
        cooling = max(0.0, min(run_s, 700.0) - 400.0) / 4000.0
        rest = 18.0 + (first - 18.0) * math.exp(-cooling)
        return rest + 0.04 * max(0.0, run_s - 700.0)

    made, kit = make_service(11, twice, air_C=17.5), FluidTemperature(SENSOR, WINDOW_C)
    made.samples(kit, START_S + 400.0)
    kit.engine_stopped(START_S + 400.0)
    made.samples(kit, START_S + 700.0, START_S + 400.0)
    assert kit.rise_s is None
    made.samples(kit, START_S + 850.0, START_S + 700.0)
    assert kit.rise_s is not None
    assert kit.rise_s > START_S + 680.0
    assert abs(known(kit.at(START_S + 850.0)).fluid_C - made.fluid_C[1150]) < 2.0


# --- causal and repeatable -----------------------------------------------------------------------


def test_what_was_said_does_not_depend_on_how_often_it_is_asked(service: Service) -> None:
    quiet, curious = FluidTemperature(SENSOR, WINDOW_C), FluidTemperature(SENSOR, WINDOW_C)
    for t in range(900):
        service.samples(quiet, t + 1.0, float(t))
        service.samples(curious, t + 1.0, float(t))
        curious.at(float(t))
        curious.forecast(float(t))
        curious.p_closes_after(float(t), t + 100.0)
    assert quiet.at(900.0) == curious.at(900.0)
    assert quiet.forecast(900.0) == curious.forecast(900.0)
