"""The mass flow onto a platform: bins, segments, and the slope that they share."""

import math
import random
import statistics
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.estimation.flow import FlowTracker, Slope, common_slope
from drainscale.estimation.levels import Bin
from drainscale.estimation.platform import Gap, Still


def filled(
    flow_kg_per_s: float, seconds: float, noise_kg: float = 0.0, start_kg: float = 1.0
) -> FlowTracker:
    rng = random.Random(4)
    tracker = FlowTracker()
    for i in range(round(10 * seconds)):
        t = i / 10.0
        kg = start_kg + flow_kg_per_s * t + rng.gauss(0.0, noise_kg)
        tracker.still(Still(t, kg, max(noise_kg, 0.0001)))
    return tracker


def gap(t0: float, t1: float, step_kg: float, slope: float = 0.0, *, noisy: bool = False) -> Gap:
    return Gap(t0, 1.0, slope, t1, 1.0 + step_kg, slope, 0.0, 0.0001, noisy)


def slope_of(tracker: FlowTracker, t: float) -> Slope:
    slope = tracker.slope(t)
    assert slope is not None
    return slope


def test_readings_are_gathered_by_the_half_second() -> None:
    bins = list(filled(0.0, 10.0).bins)
    assert len(bins) == 19
    assert [b.t - a.t for a, b in pairwise(bins)] == pytest.approx([0.5] * 18)
    assert bins[0].sigma_kg == pytest.approx(0.0001 / 5.0**0.5)


def test_the_flow_is_the_slope() -> None:
    tracker = filled(0.0123, 20.0)
    assert slope_of(tracker, 5.0).kg_per_s == pytest.approx(0.0123, rel=1e-9)
    assert slope_of(tracker, 5.0).t_mid == pytest.approx(12.2, abs=0.3)


def test_two_bins_are_too_few_for_a_flow() -> None:
    assert filled(0.01, 1.6).slope(0.6) is None
    assert FlowTracker().slope(0.0) is None


def test_noise_makes_a_flow_scatter_by_the_closed_form() -> None:
    """sd of a slope under white noise, sqrt(12 s^2 / (n (n^2 - 1) dt^2)) (JCGM 100, H.3):
    30 points 1 s apart with sigma 0.5 give 0.01054679."""
    rng = random.Random(2)
    slopes, told = [], []
    for _ in range(400):
        one = common_slope([Bin(0, float(i), rng.gauss(0.0, 0.5), 0.5) for i in range(30)])
        assert one is not None
        slopes.append(one.kg_per_s)
        told.append(one.u_kg_per_s)
    assert statistics.stdev(slopes) == pytest.approx(0.01054679, rel=0.1)
    assert told[0] == pytest.approx(0.01054679, rel=1e-3)


def test_a_step_that_no_flow_explains_does_not_look_like_a_flow() -> None:
    tracker = filled(0.0, 10.0)
    assert tracker.gap(gap(9.9, 11.0, 0.4)) is False
    for i in range(100):
        tracker.still(Still(11.0 + i / 10.0, 1.4, 0.0001))
    assert slope_of(tracker, 0.0).kg_per_s == pytest.approx(0.0, abs=1e-12)


def test_a_gap_that_the_flow_explains_keeps_the_level() -> None:
    tracker = filled(0.01, 10.0)
    assert tracker.gap(gap(9.9, 11.9, 0.0202, slope=0.01)) is True


def test_a_gap_that_ends_in_shaking_never_keeps_the_level() -> None:
    tracker = filled(0.01, 10.0)
    assert tracker.gap(gap(9.9, 11.9, 0.02, slope=0.01, noisy=True)) is False


def test_a_flow_known_better_than_by_the_gaps_own_slope_is_used() -> None:
    tracker = filled(0.0, 10.0)
    assert tracker.gap(gap(9.9, 11.9, 0.02), flow_kg_per_s=0.01) is True
    assert tracker.gap(gap(11.9, 13.9, 0.02), flow_kg_per_s=0.0) is False


def test_the_level_is_brought_on_by_the_flow() -> None:
    tracker = filled(0.01, 20.0)
    assert tracker.settled_kg(30.0, 0.01, over_s=20.0) == pytest.approx(1.3, abs=1e-9)
    assert tracker.settled_kg(60.0, 0.01) is None
    assert FlowTracker().settled_kg(1.0, 0.0) is None


def test_the_level_is_that_of_the_latest_segment_only() -> None:
    tracker = filled(0.0, 10.0)
    tracker.new_segment()
    for i in range(12):
        tracker.still(Still(10.0 + i / 10.0, 2.0, 0.0001))
    assert tracker.settled_kg(11.2, 0.0) == pytest.approx(2.0)


def test_what_is_older_than_four_minutes_is_forgotten() -> None:
    tracker = filled(0.0, 400.0)
    assert tracker.bins[-1].t - tracker.bins[0].t <= 240.0
    assert len(tracker.bins) <= 481


def test_another_load_starts_from_nothing() -> None:
    tracker = filled(0.05, 10.0)
    tracker.clear()
    assert tracker.last is None
    assert tracker.since(0.0) == []


@given(
    st.floats(-0.1, 0.1), st.lists(st.floats(-20.0, 20.0), min_size=1, max_size=4),
    st.floats(0.0, 1e4),
)  # fmt: skip
def test_levels_and_the_clock_do_not_matter_for_a_flow(
    flow: float, levels: list[float], t0: float
) -> None:
    bins = [
        Bin(k, t0 + 10.0 * k + i, level + flow * (10.0 * k + i), 0.001)
        for k, level in enumerate(levels)
        for i in range(8)
    ]
    slope = common_slope(bins)
    assert slope is not None
    assert slope.kg_per_s == pytest.approx(flow, abs=1e-8)


def swinging(seconds: float, stroke_s: float = 1.6) -> FlowTracker:
    """A jug that loses 20 g/s and swings by 80 g either way."""
    flow = FlowTracker()
    for i in range(round(10.0 * seconds)):
        t = 0.1 * i
        kg = 4.0 - 0.02 * t + 0.08 * math.sin(2.0 * math.pi * t / stroke_s)
        flow.still(Still(t, kg, 0.05))
    return flow


@pytest.mark.parametrize("stroke_s", [1.0, 1.3, 1.6, 1.8])
@pytest.mark.parametrize("seconds", [20.0, 20.4, 20.8, 21.2])
def test_a_swing_leaves_nearly_nothing_in_the_mean_course(stroke_s: float, seconds: float) -> None:
    flow = swinging(seconds, stroke_s)
    level_kg = flow.swung_kg()
    assert level_kg is not None
    assert flow.last is not None
    # as it was half a second to a second ago, never as it will be
    assert 0.0 < level_kg - (4.0 - 0.02 * flow.last.t) + 0.01 < 0.04


def test_a_swing_of_a_second_or_two_has_no_mean_course_yet() -> None:
    assert swinging(2.0).swung_kg() is None


def test_a_level_at_rest_is_not_moved_by_the_hand_that_came_last() -> None:
    flow = FlowTracker()
    for i in range(200):
        flow.still(Still(0.1 * i, 3.0 - (0.03 if i > 160 else 0.0), 0.0002))
    assert flow.middle_kg(0.0) == pytest.approx(3.0, abs=1e-6)


def test_a_level_seen_for_a_few_seconds_only_has_no_middle() -> None:
    flow = FlowTracker()
    for i in range(40):
        flow.still(Still(0.1 * i, 3.0, 0.0002))
    assert flow.middle_kg(0.0) is None
    assert FlowTracker().middle_kg(0.0) is None
