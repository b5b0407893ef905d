"""What happens on the platform: trusted readings, and the gaps between them."""

import math
import random
import statistics
from collections.abc import Callable
from itertools import pairwise
from typing import TypeVar

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.estimation.blocks import Block
from drainscale.estimation.platform import Gap, Happening, Lifted, Placed, Platform, Shaken, Still

T = TypeVar("T")


def played(
    reading_kg: Callable[[float], float], seconds: float, noise_kg: float = 0.0001
) -> list[Happening]:
    """Ten readings a second with a little noise."""
    rng = random.Random(3)
    platform = Platform(empty_below_kg=0.04, loaded_above_kg=0.15)
    out: list[Happening] = []
    for i in range(round(10 * seconds)):
        t = i / 10.0
        out += platform.add(Block(t, reading_kg(t) + rng.gauss(0.0, noise_kg)))
    return out


def only(kind: type[T], happenings: list[Happening]) -> list[T]:
    return [one for one in happenings if isinstance(one, kind)]


def test_a_resting_load_is_trusted_all_the_time() -> None:
    seen = played(lambda _: 1.0, 20.0)
    assert len(only(Still, seen)) >= 195
    assert not only(Gap, seen)
    assert not only(Placed, seen)  # it stood there before: nobody put it


def test_the_noise_of_a_reading_is_learnt() -> None:
    """White noise: told to a third or so, erring low, for it follows up slowly, down fast."""
    for noise_kg in (0.0001, 0.0005):
        sigmas = [one.sigma_kg for one in only(Still, played(lambda _: 1.0, 90.0, noise_kg))]
        assert 0.6 < statistics.fmean(sigmas[300:]) / noise_kg < 1.1


@pytest.mark.parametrize("flow_kg_per_s", [0.0001, 0.005, 0.08])
def test_a_steady_flow_is_trusted_whatever_its_strength(flow_kg_per_s: float) -> None:
    seen = played(lambda t: 1.0 + flow_kg_per_s * t, 20.0)
    assert not only(Gap, seen)
    assert only(Still, seen)[-1].kg == pytest.approx(1.0 + 19.9 * flow_kg_per_s, abs=0.001)


def test_a_load_put_on_the_empty_platform_is_placed_when_it_came() -> None:
    seen = played(lambda t: 0.0 if t < 5.0 else 0.9, 10.0)
    placed = only(Placed, seen)
    assert len(placed) == 1
    assert placed[0].t == pytest.approx(5.0, abs=0.2)
    assert placed[0].kg == pytest.approx(0.9, abs=0.001)
    assert placed[0].known_t - placed[0].t < 1.5


def test_a_load_taken_away_is_lifted_with_its_last_sure_reading() -> None:
    seen = played(lambda t: 1.5 if t < 5.0 else (1.9 if t < 5.4 else 0.0), 10.0)
    lifted = only(Lifted, seen)
    assert len(lifted) == 1
    assert lifted[0].kg == pytest.approx(1.5, abs=0.001)
    assert lifted[0].t_trusted < 5.0 < lifted[0].t < 5.6


def test_a_light_thing_on_the_empty_platform_is_no_load() -> None:
    assert not only(Placed, played(lambda t: 0.0 if t < 5.0 else 0.1, 10.0))


def test_an_almost_empty_bottle_still_stands_there() -> None:
    """60 g is too little to be put there, yet enough to have stayed."""
    assert not only(Lifted, played(lambda t: 0.5 if t < 5.0 else 0.06, 10.0))


def test_a_knock_makes_a_gap_that_goes_out_and_comes_back() -> None:
    def knocked(t: float) -> float:
        swing = 0.0 if t < 5.0 else 0.1 * math.exp(-(t - 5.0) / 0.2) * math.cos(25.0 * (t - 5.0))
        return 1.0 + swing

    gaps = only(Gap, played(knocked, 12.0))
    assert len(gaps) == 1
    assert abs(gaps[0].step_kg) < 0.001
    assert gaps[0].excursion_kg > 0.03


def test_no_reading_during_a_touch_is_trusted() -> None:
    def touched(t: float) -> float:
        return 1.0 + (0.3 if 5.0 <= t < 7.0 and int(t * 10) % 2 else 0.0)

    seen = played(touched, 12.0)
    assert all(abs(one.kg - 1.0) < 0.002 for one in only(Still, seen))
    assert only(Shaken, seen)[0].t == pytest.approx(5.1, abs=0.11)


@pytest.mark.parametrize("seconds", [0.3, 0.5, 0.9])
def test_a_stroke_goes_one_way_and_never_leaves_the_span_of_its_two_sides(seconds: float) -> None:
    def stroke(t: float) -> float:
        done = min(max((t - 5.0) / seconds, 0.0), 1.0)
        return 4.0 - 0.1 * done * done * (3.0 - 2.0 * done)

    seen = played(stroke, 12.0)
    gaps = only(Gap, seen)
    assert gaps[-1].kg1 == pytest.approx(3.9, abs=0.001)
    assert gaps[0].kg0 == pytest.approx(4.0, abs=0.001)
    assert max(gap.excursion_kg for gap in gaps) < 0.002


def test_a_flow_goes_on_through_a_knock_and_both_slopes_are_told() -> None:
    def reading(t: float) -> float:
        knock = 0.15 if 8.0 <= t < 8.3 else 0.0
        return 1.0 + 0.01 * t + knock

    gap = only(Gap, played(reading, 16.0))[0]
    assert (gap.slope0_kg_per_s, gap.slope1_kg_per_s) == pytest.approx((0.01, 0.01), abs=0.001)
    assert gap.step_kg == pytest.approx(0.01 * (gap.t1 - gap.t0), abs=0.001)


def test_an_engine_that_shakes_the_car_is_noise_not_a_hand() -> None:
    rng = random.Random(9)
    seen = played(lambda t: 1.0 + (rng.gauss(0.0, 0.004) if t > 5.0 else 0.0), 40.0)
    late = [one for one in only(Still, seen) if one.t > 20.0]
    assert len(late) > 150
    assert late[-1].sigma_kg == pytest.approx(0.004, rel=0.4)


def test_a_hole_in_the_data_is_a_gap() -> None:
    platform = Platform(0.04, 0.15)
    seen: list[Happening] = []
    for i in range(200):
        if not 80 <= i < 130:
            seen += platform.add(Block(i / 10.0, 1.0 + 0.00001 * (i % 3)))
    assert any(gap.t0 < 8.0 and gap.t1 >= 13.0 for gap in only(Gap, seen))


@given(
    st.lists(
        st.tuples(st.floats(0.0, 20.0), st.floats(-20.0, 20.0)), min_size=1, max_size=80
    )
)  # fmt: skip
def test_any_readings_are_judged_in_time_order_and_finite(steps: list[tuple[float, float]]) -> None:
    platform = Platform(0.04, 0.15)
    t, last = 0.0, -math.inf
    for dt, kg in steps:
        t += dt
        for one in platform.add(Block(t, kg)):
            if isinstance(one, Still):
                assert last <= one.t <= t
                last = one.t
                assert math.isfinite(one.kg)
                assert one.sigma_kg > 0.0


@given(st.lists(st.sampled_from([0.0, 0.9, 2.0]), min_size=2, max_size=8))
def test_what_is_placed_and_lifted_alternates(levels: list[float]) -> None:
    """Whatever stands there for three seconds each."""
    seen = played(lambda t: levels[min(int(t / 3.0), len(levels) - 1)], 3.0 * len(levels))
    words = [type(one) for one in seen if isinstance(one, Placed | Lifted)]
    assert all(a is not b for a, b in pairwise(words))
    loads = [levels[0] > 0.0, *(kg > 0.0 for kg in levels)]
    changes = sum(a != b for a, b in pairwise(loads))
    assert len(words) == changes


@pytest.mark.parametrize("swing_kg", [0.045, 0.05, 0.055])
def test_the_straight_middle_of_a_swing_is_not_taken_for_rest(swing_kg: float) -> None:
    """A pump that stands in the jug swings it; no gap may end faster than any pump gives."""

    def jug_kg(t: float) -> float:
        swings = swing_kg * math.sin(2.0 * math.pi * 0.6 * t) if t > 5.0 else 0.0
        return 4.5 - 0.02 * max(t - 5.0, 0.0) + swings

    rng = random.Random(5)
    platform = Platform(empty_below_kg=0.04, loaded_above_kg=0.15)
    platform.may_be_pumped = True
    seen: list[Happening] = []
    for i in range(1300):
        seen += platform.add(Block(i / 10.0, jug_kg(i / 10.0) + rng.gauss(0.0, 0.004)))
    gaps = only(Gap, seen)
    assert gaps
    assert all(abs(gap.slope1_kg_per_s) < 0.15 for gap in gaps)
