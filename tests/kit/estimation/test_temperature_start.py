"""The likeliest start: found from the readings, told or not."""

import math

import pytest

from drainscale.estimation.temperature_filter import WarmUpFilter
from drainscale.estimation.temperature_start import Reading, StartSearch, feed
from drainscale.quantities.job import PanSensor

SENSOR = PanSensor(
    surface_ratio=0.90, surface_ratio_u=0.03, lag_s=25.0, lag_u_s=6.0, sensor_u_C=0.7
)
AIR_C = 18.0
ENGINE_AT_S = 300.0
RISE_S = 345.0


def pan_C(t: float) -> float:
    """Skin behind a fluid that heats at 2 K/min after a soft start, lag 25 s, ratio 0.9."""
    run_s = max(0.0, t - ENGINE_AT_S)
    return AIR_C + 0.9 * 0.033 * (run_s - 45.0 * (1.0 - math.exp(-run_s / 45.0)))


@pytest.fixture
def search() -> StartSearch:
    """Seen up to 90 s after the start."""
    found, idle = StartSearch(), WarmUpFilter(SENSOR, 0.0, AIR_C, AIR_C)
    for i in range(1, 131):
        reading = Reading(3.0 * i, pan_C(3.0 * i), 0.06, AIR_C)
        feed(idle, reading)
        found.add(idle, reading)
    return found


def test_untold_the_start_is_found_within_half_a_minute(search: StartSearch) -> None:
    found = search.likeliest(RISE_S, None)
    assert found is not None
    assert found[0] == pytest.approx(ENGINE_AT_S, abs=30.0)


@pytest.mark.parametrize("told_s", [290.0, 300.0, 310.0])
def test_a_told_start_is_believed_within_its_doubt(search: StartSearch, told_s: float) -> None:
    found = search.likeliest(RISE_S, told_s)
    assert found is not None
    assert found[0] == pytest.approx(told_s, abs=18.0)


def test_what_was_told_tips_the_scales_between_like_starts(search: StartSearch) -> None:
    untold, told = search.likeliest(RISE_S, None), search.likeliest(RISE_S, 282.0)
    assert untold is not None
    assert told is not None
    assert told[0] < untold[0]


def test_a_start_told_two_minutes_early_is_not_believed(search: StartSearch) -> None:
    found = search.likeliest(RISE_S, 190.0)
    assert found is not None
    assert found[0] > 250.0


def test_the_filter_found_runs_and_has_seen_every_reading(search: StartSearch) -> None:
    found = search.likeliest(RISE_S, None)
    assert found is not None
    assert found[1].running
    assert found[1].t == 390.0


def test_no_start_is_sought_after_the_rise(search: StartSearch) -> None:
    found = search.likeliest(250.0, None)
    assert found is not None
    assert found[0] <= 250.0


def test_with_nothing_kept_nothing_is_found(search: StartSearch) -> None:
    search.clear()
    assert search.likeliest(RISE_S, None) is None
