"""The first sure rise: found when the engine heats, not when anything else happens."""

import math
from collections.abc import Callable

import pytest

from drainscale.estimation.temperature_rise import RiseDetector
from drainscale.estimation.temperature_start import Reading

STEP_S = 3.0
ENGINE_AT_S = 400.0


def first_rise(pan_C: Callable[[float], float], until_s: float) -> tuple[float, float] | None:
    """Feed 0.25 degC steps with a little ripple; when it was known and what was said."""
    detector = RiseDetector()
    t = 0.0
    while t < until_s:
        ripple = 0.15 * math.sin(2.1 * t) + 0.1 * math.sin(5.3 * t)
        block = round((pan_C(t) + ripple) * 4.0) / 4.0
        detector.add(Reading(t, block, 0.1, 18.0))
        rise_s = detector.began_s()
        if rise_s is not None:
            return t, rise_s
        t += STEP_S
    return None


def engine(rate_K_per_s: float) -> Callable[[float], float]:
    """A pan that stands at 18 degC and rises at a steady rate from `ENGINE_AT_S` on."""
    return lambda t: 18.0 + rate_K_per_s * max(0.0, t - ENGINE_AT_S)


def test_a_pan_at_rest_does_not_rise() -> None:
    assert first_rise(lambda _: 18.1, 3600.0) is None


def test_a_draught_from_the_door_is_no_rise() -> None:
    # 3 K warmer air on a skin that takes a tenth of it, with a lag of 30 s
    assert first_rise(
        lambda t: 18.0 + 0.3 * (1.0 - math.exp(-max(0.0, t - 400.0) / 30.0)), 1200.0
    ) is None  # fmt: skip


def test_a_fan_heater_that_warms_the_skin_by_a_little_in_a_minute_is_no_rise() -> None:
    assert first_rise(lambda t: 18.0 + 0.35 * min(1.0, max(0.0, t - 400.0) / 60.0), 1200.0) is None


def test_sun_that_warms_the_pan_by_two_kelvin_in_half_an_hour_is_no_rise() -> None:
    assert first_rise(lambda t: 18.0 + t * 2.0 / 1800.0, 1800.0) is None


def test_cold_fluid_filled_in_is_no_rise() -> None:
    assert first_rise(lambda t: 22.0 - 4.0 * (1.0 - math.exp(-t / 200.0)), 1500.0) is None


@pytest.mark.parametrize(("rate_K_per_min", "within_s"), [(3.0, 45.0), (1.5, 60.0), (0.6, 110.0)])
def test_an_engine_is_found_the_sooner_the_faster_it_heats(
    rate_K_per_min: float, within_s: float
) -> None:
    found = first_rise(engine(rate_K_per_min / 60.0), 900.0)
    assert found is not None
    assert ENGINE_AT_S < found[0] < ENGINE_AT_S + within_s


@pytest.mark.parametrize("rate_K_per_min", [3.0, 1.5, 0.6])
def test_the_rise_is_dated_back_to_when_it_began_to_show(rate_K_per_min: float) -> None:
    found = first_rise(engine(rate_K_per_min / 60.0), 900.0)
    assert found is not None
    known_s, rise_s = found
    assert ENGINE_AT_S - 15.0 < rise_s < known_s
    assert rise_s < ENGINE_AT_S + 45.0


def test_with_nothing_seen_there_is_no_rise() -> None:
    assert RiseDetector().began_s() is None


def test_after_a_clear_the_old_level_is_forgotten() -> None:
    detector = RiseDetector()
    feed_level(detector, 0.0, 18.0)
    detector.clear()
    feed_level(detector, 200.0, 25.0)
    assert detector.began_s() is None


def feed_level(detector: RiseDetector, from_s: float, level_C: float, rate: float = 0.0) -> None:
    for i in range(40):
        at_C = level_C + rate * STEP_S * i
        detector.add(Reading(from_s + STEP_S * i, at_C, 0.1, 18.0))


def test_a_pan_that_stands_has_stopped_rising() -> None:
    detector = RiseDetector()
    feed_level(detector, 0.0, 18.0, 0.03)
    feed_level(detector, 120.0, 21.6)
    assert detector.has_stopped()


def test_a_pan_that_an_engine_heats_slowly_has_not_stopped() -> None:
    detector = RiseDetector()
    feed_level(detector, 0.0, 18.0, 0.005)
    assert not detector.has_stopped()


def test_a_gap_in_the_readings_does_not_look_like_standing_still() -> None:
    detector = RiseDetector()
    feed_level(detector, 0.0, 18.0)
    feed_level(detector, 200.0, 18.0)
    for i in range(5):
        detector.add(Reading(400.0 + STEP_S * i, 18.0, 0.1, 18.0))
    assert not detector.has_stopped()
