"""Whether a sensor still says something, and what shook the platform."""

from tests.kit.core.bench import COUNTS_PER_KG, SCALE, ZERO_COUNT

from drainscale.core.disturbances import Disturbances
from drainscale.core.scale_channel import ScaleChannel
from drainscale.core.sensor_watch import SensorWatch
from drainscale.estimation.platform import Gap


def gap(t0: float, t1: float, excursion_kg: float, *, noisy: bool = False) -> Gap:
    return Gap(t0, 1.0, 0.0, t1, 1.0, 0.0, excursion_kg, 0.0001, noisy)


def test_five_silent_seconds_are_a_fault_told_once() -> None:
    watch = SensorWatch(10.0)
    assert [watch.check(t) for t in (14.9, 15.0, 15.5, 60.0)] == [False, True, False, False]


def test_a_reading_ends_a_fault_once() -> None:
    watch = SensorWatch(0.0)
    watch.check(6.0)
    assert watch.heard(7.0)
    assert not watch.heard(7.1)
    assert not watch.check(12.0)
    assert watch.check(12.2)


def test_a_fault_that_the_sensor_reports_itself_is_told_at_once_and_once() -> None:
    watch = SensorWatch(0.0)
    assert watch.reported()
    assert not watch.reported()
    assert not watch.check(60.0)


def test_a_knock_of_three_grams_is_told_and_one_of_two_is_not() -> None:
    assert Disturbances().gap(gap(5.0, 6.0, 0.003))
    assert not Disturbances().gap(gap(5.0, 6.0, 0.002))


def test_knocks_within_two_seconds_are_one_stretch() -> None:
    told = Disturbances()
    knocks = [(5.0, 6.0), (7.5, 8.0), (9.9, 10.5), (12.6, 13.0)]
    assert [told.gap(gap(t0, t1, 0.05)) for t0, t1 in knocks] == [True, False, False, True]
    assert told.count == 2


def test_a_step_that_leaves_its_span_alone_is_no_disturbance() -> None:
    """A stroke of a pump goes one way."""
    assert not Disturbances().gap(gap(5.0, 6.0, 0.0))


def test_counts_become_kilograms_by_the_jobs_calibration() -> None:
    """80000 counts are nothing, 2180000 are 5 kg: 2 kg stands at 920000."""
    channel = ScaleChannel(SCALE, 0.0)
    for i in range(20):
        channel.add(i / 10.0, ZERO_COUNT + 2.0 * COUNTS_PER_KG + i % 3)
    assert channel.latest_kg is not None
    assert abs(channel.latest_kg - 2.0) < 0.00001


def test_a_hanging_converter_says_nothing_new() -> None:
    channel = ScaleChannel(SCALE, 0.0)
    assert [channel.is_news(count) for count in (7.0, 7.0, 8.0, 7.0)] == [True, False, True, True]


def test_a_hole_without_readings_is_remembered() -> None:
    channel = ScaleChannel(SCALE, 0.0)
    for i in range(100):
        if not 30 <= i < 80:
            channel.add(i / 10.0, 500_000.0 + i)
    assert channel.hole is not None
    assert (round(channel.hole[0], 1), round(channel.hole[1], 1)) == (2.9, 8.0)
