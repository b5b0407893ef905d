"""Hands at the container after the plug was shut, or in place of a spill; and what nobody saw."""

import pytest
from tests.kit.core.bench import Bench, Spill, answered, times

from drainscale.quantities.samples import Sample


def shaken() -> Bench:
    """A container under a car that shakes it, fluid warm, nothing open."""
    bench = Bench(shaking_kg=0.0015)
    bench.mark("circulate")
    bench.start_engine()
    bench.wait(10.0)
    bench.mark("warm")
    bench.place(3.0)
    bench.wait(60.0)
    return bench


def comes_as_a_flow(s: float) -> float:
    """Leans on it ever harder, by 12 g a second, and lets go."""
    return 0.012 * s if s < 3.0 else 0.0


def test_a_hand_that_was_taken_for_a_spill_leaves_none() -> None:
    bench = shaken()
    bench.wait(3.2, comes_as_a_flow)
    bench.wait(30.0)
    answer = answered(bench)
    assert times(answer, "flow-started")  # it looked like one
    assert answer["spill"]["mass_kg"] is None


def test_the_spill_after_a_hand_that_was_taken_for_one_is_dated_and_weighed() -> None:
    bench = shaken()
    bench.wait(3.2, comes_as_a_flow)
    bench.wait(bench.warm_up.reaches_s(38.0) - 80.0)
    bench.open_check(Spill(200.0))
    bench.wait(90.0)
    bench.shut()
    bench.mark("seal")
    bench.wait(20.0)
    bench.lift()
    answer = answered(bench)
    began_s = bench.started_s["spill"]
    assert times(answer, "flow-started")[-1] == pytest.approx(began_s, abs=4.0)
    assert answer["spill"]["mass_kg"] == pytest.approx(bench.spilled_kg, abs=0.004)
    assert answer["level"]["verdict"] == "closed-in-window"


def test_a_hand_after_the_plug_was_shut_takes_nothing_of_what_ran() -> None:
    """It lifts a little, as one does before one carries it away."""
    bench = shaken()
    bench.wait(bench.warm_up.reaches_s(38.0) - 80.0)
    bench.open_check(Spill(200.0))
    bench.wait(90.0)
    bench.shut()
    bench.mark("seal")
    bench.wait(25.0)
    bench.wait(3.0, lambda s: -0.015 * s)
    bench.lift()
    assert answered(bench)["spill"]["mass_kg"] == pytest.approx(bench.spilled_kg, abs=0.004)


def draining() -> Bench:
    bench = Bench()
    bench.wait(4.0)
    bench.place(0.9)
    bench.wait(8.0)
    bench.open_drain(kg=2.2, tau_s=25.0)
    bench.wait(20.0)
    return bench


def without(samples: list[Sample], from_s: float, to_s: float) -> list[Sample]:
    """Nothing at all was recorded in between."""
    return [one for one in samples if not from_s < one.t < to_s]


def test_a_gap_in_a_drain_whose_flow_went_on_costs_next_to_nothing() -> None:
    bench = draining()
    gap_s = bench.t
    bench.wait(150.0)
    seen = answered(bench)["drained"]
    missed = answered(bench, without(bench.samples, gap_s, gap_s + 6.0))["drained"]
    assert missed["mass_kg"] == pytest.approx(bench.drained_kg, abs=0.002)
    assert seen["U_volume_L"] <= missed["U_volume_L"] <= seen["U_volume_L"] + 0.001


def test_a_gap_in_which_the_container_was_off_the_stream_is_unsure() -> None:
    bench = draining()
    gap_s = bench.t
    bench.wait(1.0)
    bench.load_kg, kg = None, bench.load_kg
    bench.wait(2.0)
    bench.load_kg = kg
    bench.wait(150.0)
    assert bench.beside_kg > 0.05
    missed = answered(bench, without(bench.samples, gap_s, gap_s + 6.0))["drained"]
    # 6 s of some 45 g/s, 5 % of it, k = 2
    assert missed["U_volume_L"] > 0.02
