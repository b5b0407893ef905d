"""The tail of a draining pan: a flow that falls as a power of time."""

import math
import random
from statistics import fmean

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.estimation.drain import Tail, decayed_flow, fit_tail
from drainscale.estimation.flow import FlowTracker, Slope
from drainscale.estimation.platform import Still

DRIP_KG_PER_S = 3.0e-6 * 846.0 / 60.0  # 3 mL/min


def ran_kg(t: float, q1_kg_per_s: float, power: float) -> float:
    """What a flow q1 (t / 100 s)^-power has brought by t, from 5 s on (closed form)."""
    at = max(t, 5.0)
    rest = q1_kg_per_s * 100.0 / (power - 1.0)
    return rest * (math.pow(0.05, 1.0 - power) - math.pow(at / 100.0, 1.0 - power))


def tail_after(
    seconds: float, q1_kg_per_s: float, power: float, noise_kg: float = 0.0, seed: int = 1
) -> Tail:
    rng = random.Random(seed)
    tracker = FlowTracker()
    for i in range(round(10 * seconds)):
        t = i / 10.0
        kg = 1.0 + ran_kg(t, q1_kg_per_s, power) + rng.gauss(0.0, noise_kg)
        tracker.still(Still(t, kg, max(noise_kg, 0.00002)))
    tail = fit_tail(tracker, 0.0)
    assert tail is not None
    return tail


@pytest.mark.parametrize("power", [1.4, 1.5, 1.7, 2.0])
def test_the_power_of_a_clean_tail_is_found(power: float) -> None:
    """1.5 is the draining film's: Jeffreys, Proc. Camb. Phil. Soc. 26 (1930) 204."""
    tail = tail_after(100.0, 0.0003, power)
    assert tail.power == pytest.approx(power, abs=0.15)
    assert tail.kg_per_s == pytest.approx(0.0003, rel=0.05)
    assert tail.since_s == pytest.approx(100.0, abs=1.0)


def test_a_film_drips_when_the_closed_form_says() -> None:
    """From 0.0003 kg/s at 100 s down to 3 mL/min: 100 (0.0003 / limit)^(2/3)."""
    due_s = 100.0 * (0.0003 / DRIP_KG_PER_S) ** (2.0 / 3.0)
    tail = tail_after(100.0, 0.0003, 1.5)
    assert tail.falls_below_s(DRIP_KG_PER_S) == pytest.approx(due_s, rel=0.15)


def test_what_a_film_will_still_bring_is_twice_its_flow_times_its_age() -> None:
    """Integral of t^-3/2 from t on: 2 q t."""
    assert Tail(100.0, 0.0003, 0.0, 1.5, 100.0).still_to_come_kg() == pytest.approx(0.06)


def test_a_tail_that_hardly_falls_brings_much_but_not_without_end() -> None:
    assert Tail(100.0, 0.0003, 0.0, 0.8, 100.0).still_to_come_kg() == pytest.approx(0.6)


def test_the_told_uncertainty_covers_the_flow_under_noise() -> None:
    """40 noisy tails: at least 36 within 2 u, mean miss under a fifth of the flow."""
    tails = [tail_after(100.0, 0.0003, 1.5, 0.0003, seed) for seed in range(40)]
    misses = [abs(tail.kg_per_s - 0.0003) for tail in tails]
    assert sum(m <= 2.0 * t.u_kg_per_s for m, t in zip(misses, tails, strict=True)) >= 36
    assert fmean(misses) < 0.2 * 0.0003


def test_a_tail_needs_seven_seconds() -> None:
    tracker = FlowTracker()
    for i in range(65):
        tracker.still(Still(i / 10.0, 1.0 + 0.001 * i, 0.0001))
    assert fit_tail(tracker, 0.0) is None
    assert fit_tail(FlowTracker(), 0.0) is None


def test_nothing_later_than_asked_for_is_used() -> None:
    """A stream that starts again at 60 s does not touch the tail of 59 s."""
    tracker = FlowTracker()
    for i in range(1000):
        t = i / 10.0
        kg = ran_kg(t, 0.0003, 1.5) + 0.05 * max(t - 60.0, 0.0)
        tracker.still(Still(t, kg, 0.0001))
    tail = fit_tail(tracker, 0.0, until_s=59.0)
    assert tail is not None
    assert tail.kg_per_s == pytest.approx(0.0003 * 0.59**-1.5, rel=0.05)


def test_an_earlier_flow_is_brought_on_by_the_films_law() -> None:
    """Four times as old: an eighth of the flow."""
    slope = Slope(0.008, 0.0, 18.0, 22.0, 9)
    assert decayed_flow(slope, 80.0, 0.0) == pytest.approx(0.001)
    assert decayed_flow(None, 80.0, 0.0) == 0.0
    assert decayed_flow(Slope(-0.01, 0.0, 18.0, 22.0, 9), 80.0, 0.0) == 0.0


def test_a_flow_that_has_stopped_fell_below_any_limit_now() -> None:
    assert Tail(50.0, 0.0, 0.0, 1.5, 50.0).falls_below_s(1e-6) == 50.0


@given(st.floats(1e-6, 0.1), st.floats(0.8, 3.5), st.floats(7.0, 1000.0), st.floats(0.1, 10.0))
def test_the_crossing_lies_ahead_exactly_while_the_flow_is_above_the_limit(
    flow: float, power: float, since_s: float, ratio: float
) -> None:
    tail = Tail(since_s, flow, 0.0, power, since_s)
    assert (tail.falls_below_s(flow * ratio) < tail.t) == (ratio > 1.0 + 1e-12)
