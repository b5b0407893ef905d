"""When a flow begins, and what stood there before it."""

import random
from collections.abc import Callable

import pytest

from drainscale.estimation.flow import FlowTracker
from drainscale.estimation.onset import Onset, find_onset
from drainscale.estimation.platform import Gap, Still

NOISE_KG = 0.0002


def first_onset(
    reading_kg: Callable[[float], float],
    seconds: float,
    before_kg_per_s: float = 0.0,
    since_t: float = 0.0,
) -> Onset | None:
    """Ask at every reading; give the first answer."""
    rng = random.Random(6)
    tracker = FlowTracker()
    for i in range(round(10 * seconds)):
        t = i / 10.0
        tracker.still(Still(t, reading_kg(t) + rng.gauss(0.0, NOISE_KG), NOISE_KG))
        found = find_onset(tracker, before_kg_per_s, since_t)
        if found is not None:
            return found
    return None


@pytest.mark.parametrize(
    ("flow_kg_per_s", "within_s", "date_s"),
    [(0.08, 2.5, 0.3), (0.01, 3.0, 0.4), (0.001, 12.0, 2.0), (0.0002, 32.0, 8.0)],
)
def test_a_flow_is_found_and_dated_back_to_its_begin(
    flow_kg_per_s: float, within_s: float, date_s: float
) -> None:
    onset = first_onset(lambda t: 1.0 + flow_kg_per_s * max(t - 60.0, 0.0), 120.0)
    assert onset is not None
    assert onset.known_t - 60.0 < within_s
    assert onset.t == pytest.approx(60.0, abs=date_s)
    assert onset.tare_kg == pytest.approx(1.0, abs=0.0005)


def test_a_resting_scale_has_no_flow() -> None:
    assert first_onset(lambda _: 1.0, 600.0) is None


def test_a_reading_that_creeps_has_no_flow() -> None:
    """2 g in ten minutes: creep after loading, not oil."""
    assert first_onset(lambda t: 1.0 + 0.002 * t / 600.0, 600.0) is None


def test_fluid_that_leaves_is_no_flow_onto_the_platform() -> None:
    assert first_onset(lambda t: 5.0 - 0.02 * max(t - 20.0, 0.0), 60.0) is None


def test_a_few_drops_are_no_flow() -> None:
    """2 g at once, and nothing after it."""
    assert first_onset(lambda t: 1.0 + (0.002 if t > 20.0 else 0.0), 90.0) is None


def test_a_stream_that_reads_its_momentum_at_once_does_not_spoil_the_tare() -> None:
    """Reading minus departed mass = flow x v1 / g at any height of fall: for 42.5 g/s leaving
    at 1 m/s 4.3338 g (impact less what is in the air; momentum theorem, closed form)."""
    excess_kg = 0.0425 * 1.0 / 9.80665
    assert excess_kg == pytest.approx(0.0043338, abs=1e-7)
    onset = first_onset(
        lambda t: 1.0 + (0.0425 * (t - 30.0) + excess_kg if t > 30.0 else 0.0), 60.0
    )
    assert onset is not None
    assert onset.tare_kg == pytest.approx(1.0, abs=0.0003)
    assert onset.t == pytest.approx(30.0, abs=0.3)


def test_a_second_flow_stands_out_against_the_tail_of_the_first() -> None:
    tail = 0.0003

    def reading(t: float) -> float:
        return 1.0 + tail * t + 0.02 * max(t - 40.0, 0.0)

    onset = first_onset(reading, 80.0, before_kg_per_s=tail)
    assert onset is not None
    assert onset.t == pytest.approx(40.0, abs=0.5)
    assert onset.tare_kg == pytest.approx(1.0 + 40.0 * tail, abs=0.0005)


def test_the_tail_alone_is_no_second_flow() -> None:
    assert first_onset(lambda t: 1.0 + 0.0003 * t, 120.0, before_kg_per_s=0.0003) is None


def test_nothing_before_the_load_came_is_looked_at() -> None:
    """A load twice as heavy since 50 s: its first readings are no rise."""
    assert first_onset(lambda t: 1.0 if t < 50.0 else 2.0, 49.9) is None
    assert first_onset(lambda t: 1.0 if t < 50.0 else 2.0, 90.0, since_t=50.05) is None


def test_a_tool_laid_down_is_no_flow() -> None:
    tracker = FlowTracker()
    for i in range(300):
        t = i / 10.0
        if i == 200:
            tracker.gap(Gap(19.9, 1.0, 0.0, 20.0, 1.4, 0.0, 0.1, 0.0001, is_noisy=False))
        tracker.still(Still(t, 1.0 if t < 20.0 else 1.4, NOISE_KG))
        assert find_onset(tracker) is None


def test_without_readings_there_is_nothing_to_find() -> None:
    assert find_onset(FlowTracker()) is None
