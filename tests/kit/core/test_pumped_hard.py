"""A jug that swings with every stroke: the target is not reached by a single swing."""

import math
from dataclasses import replace

import pytest
from tests.kit.core.bench import JOB, Bench, answered, times, with_first_jug

STROKE_S, SWING_KG = 1.6, 0.08
KG_PER_S = 0.02


def pumped(kg: float) -> Bench:
    """Some 2.2 kg drained, ``kg`` pumped back steadily, the jug swinging all the while."""
    bench = Bench(job=replace(JOB, procedure=replace(JOB.procedure, allowance_L=0.3)))
    bench.wait(4.0)
    bench.place(0.9)
    bench.wait(8.0)
    bench.mark("drain")
    bench.open_drain(kg=2.2, tau_s=25.0)
    bench.wait(200.0)
    bench.mark("refit")
    bench.shut()
    bench.wait(20.0)
    bench.lift()
    bench.mark("refill")
    bench.place(4.6)
    bench.wait(8.0)
    bench.add_kg(0.5)
    bench.wait(6.0)
    assert bench.load_kg is not None
    bench.started_s["pump"], before_kg = bench.t, bench.load_kg
    bench.wait(
        kg / KG_PER_S,
        lambda s: -KG_PER_S * s + SWING_KG * math.sin(2.0 * math.pi * s / STROKE_S),
    )
    bench.load_kg, bench.added_kg = before_kg - kg, kg
    bench.wait(6.0)
    return bench


def target_kg(bench: Bench) -> float:
    """What the scale shows for the drained volume plus 0.3 L, at one temperature."""
    return bench.drained_kg + 0.3 * 0.8427  # 846 kg/m3 at 15 °C is 842.7 at 20 °C (ASTM D1250)


@pytest.mark.parametrize("short_kg", [0.02, 0.05])
def test_a_jug_that_swings_does_not_reach_the_target_before_its_fluid_does(short_kg: float) -> None:
    short = pumped(2.4)
    bench = pumped(target_kg(short) - short_kg)
    assert not times(answered(bench), "refill-reached")


def test_the_target_is_told_within_two_seconds_of_the_fluid_that_reaches_it() -> None:
    short = pumped(2.4)
    bench = pumped(target_kg(short) + 0.15)
    due_s = bench.started_s["pump"] + target_kg(bench) / KG_PER_S
    assert times(answered(bench), "refill-reached") == [pytest.approx(due_s, abs=2.0)]


def filled_by_pump() -> Bench:
    """Drained, and 0.8 kg pumped back with a pump of 0.39 kg that still stands in the jug."""
    bench = with_first_jug(drains_s=150.0, rests_s=20.0)
    bench.add_kg(0.39)
    bench.wait(4.0)
    bench.pump(0.8, strokes=8)
    bench.wait(4.0)
    return bench


def test_a_hand_that_leaves_the_pump_slowly_pumps_nothing() -> None:
    """It lies on the pump for a second after that was set in, and lets go: 80 g, no fluid."""
    bench = with_first_jug(drains_s=150.0, rests_s=20.0)
    assert bench.load_kg is not None
    bench.load_kg += 0.5
    bench.wait(1.2, lambda s: 0.08 * min(1.0, (1.2 - s) / 0.4))
    bench.wait(4.0)
    bench.pump(0.8, strokes=8)
    bench.wait(4.0)
    added_kg = answered(bench)["refill"]["added_mass_kg"]
    assert added_kg == pytest.approx(bench.added_kg, abs=0.003)


def test_a_jug_that_nobody_announced_leaves_the_drained_mass_alone() -> None:
    """It stands where the container stood, and a hand that leaves its pump slowly is no drain."""
    bench = Bench()
    bench.wait(4.0)
    bench.place(0.9)
    bench.wait(8.0)
    bench.open_drain(kg=2.2, tau_s=25.0)
    bench.wait(110.0)
    bench.open_drain(kg=0.8, tau_s=15.0)
    bench.wait(110.0)
    bench.shut()
    bench.wait(10.0)
    bench.lift()
    bench.wait(20.0)
    bench.place(1.5)
    bench.wait(8.0)
    assert bench.load_kg is not None
    bench.load_kg += 0.36
    bench.wait(2.2, lambda s: 0.05 if s < 1.6 else 0.0)
    bench.wait(3.0)
    bench.pump(0.8, strokes=8)
    bench.wait(4.0)
    answer = answered(bench)
    assert answer["drained"]["mass_kg"] == pytest.approx(bench.drained_kg, abs=0.002)
    assert answer["refill"]["added_mass_kg"] is not None


def test_a_pump_that_a_hand_takes_out_slowly_took_no_fluid_with_it() -> None:
    """Off at once by 230 g, then held for half a second while the rest of its 390 g goes."""
    bench = filled_by_pump()
    assert bench.load_kg is not None
    bench.load_kg -= 0.39
    bench.wait(2.0, lambda s: 0.16 * max(1.0 - max(s - 0.2, 0.0) / 1.2, 0.0) if s < 1.4 else 0.0)
    bench.wait(4.0)
    bench.lift()
    added_kg = answered(bench)["refill"]["added_mass_kg"]
    assert added_kg == pytest.approx(bench.added_kg, abs=0.003)
