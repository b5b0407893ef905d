"""What is put back: by loss in weight, whatever stands there and shakes it."""

import math
from dataclasses import replace

import pytest
from tests.kit.core.bench import JOB, SCALE, Answer, Bench, answered, fill, later, times

from drainscale.quantities.samples import AddedByHand, Sample, ScaleCount


def drained() -> Bench:
    """A service whose drain is done and whose container is away."""
    bench = Bench()
    bench.mark("prepare")
    bench.wait(4.0)
    bench.place(0.9)
    bench.wait(10.0)
    bench.mark("drain")
    bench.open_drain(kg=2.2, tau_s=20.0)
    bench.wait(110.0)
    bench.mark("refit")
    bench.shut()
    bench.wait(6.0)
    bench.lift()
    return bench


def added_g(answer: Answer) -> float:
    return 1000.0 * float(answer["refill"]["added_mass_kg"])


def test_what_left_the_jug_stroke_by_stroke_was_added() -> None:
    bench = drained()
    fill(bench, 2.7)
    assert added_g(answered(bench)) == pytest.approx(2700.0, abs=1.0)


def test_the_pump_that_stood_in_the_jug_is_no_fluid() -> None:
    """Half a kilogram goes in before the first stroke and comes out after the last."""
    bench = drained()
    bench.mark("refill")
    bench.place(4.6)
    bench.wait(8.0)
    bench.add_kg(0.5)
    bench.wait(6.0)
    bench.pump(2.0, strokes=20)
    bench.wait(8.0)
    bench.add_kg(-0.5)
    bench.wait(8.0)
    bench.lift()
    assert added_g(answered(bench)) == pytest.approx(2000.0, abs=1.5)


def test_a_jug_lifted_gently_soon_after_hard_strokes_keeps_its_last_grams() -> None:
    """The noise of the strokes is over with them: the first tenth of a lift is no reading."""
    bench = drained()
    bench.mark("refill")
    bench.place(4.6)
    bench.wait(8.0)
    angle = 2.0 * math.pi * 0.6  # strokes a second
    for _ in range(15):  # three strokes each: 0.04 kg/s on the mean, and the platform swings
        bench.wait(5.0, lambda s: 0.012 * math.sin(angle * s) - 0.04 * s)
        assert bench.load_kg is not None
        bench.load_kg -= 0.2
    bench.wait(2.5)
    shown_kg = bench.load_kg or 0.0
    bench.wait(0.1, lambda _: -0.018)
    bench.wait(0.6, lambda s: -shown_kg * min(0.05 + s / 0.5, 1.0))
    bench.load_kg = None
    bench.wait(4.0)
    true_kg = 3.0 * (1.0 - 1.2 / 8000.0) / (1.0 - 1.2 / 846.0)  # OIML D 28
    assert added_g(answered(bench)) == pytest.approx(1000.0 * true_kg, abs=1.5)


def test_a_pump_whose_step_is_read_while_the_jug_still_rings_costs_nothing() -> None:
    """A hand lets go slowly: the reading is calm, and still some grams too high."""
    bench = drained()
    bench.mark("refill")
    bench.place(4.6)
    bench.wait(8.0)
    bench.add_kg(0.5)
    bench.wait(6.0, lambda s: 0.006 * math.exp(-s / 1.2))
    bench.pump(2.0, strokes=20)
    bench.wait(8.0)
    bench.add_kg(-0.5)
    bench.wait(8.0)
    bench.lift()
    assert added_g(answered(bench)) == pytest.approx(2000.0, abs=1.0)


def test_every_jug_counts_by_what_it_lost() -> None:
    bench = drained()
    for kg in (1.2, 0.8, 0.4):
        fill(bench, kg)
    assert added_g(answered(bench)) == pytest.approx(2400.0, abs=1.5)


def test_a_full_jug_that_is_taken_away_again_counts_nothing() -> None:
    bench = drained()
    bench.mark("refill")
    bench.place(4.6)
    bench.wait(15.0)
    bench.lift()
    bench.wait(5.0)
    fill(bench, 1.5)
    assert added_g(answered(bench)) == pytest.approx(1500.0, abs=1.0)


def test_the_target_is_the_drained_volume_and_the_allowance() -> None:
    bench = drained()
    answer = answered(bench)
    assert answer["refill"]["target_volume_20C_L"] == pytest.approx(
        answer["drained"]["volume_20C_L"] + 0.5, abs=1e-5
    )
    assert answer["refill"]["added_mass_kg"] is None


def test_the_target_is_told_within_two_seconds() -> None:
    """2.22 kg drained and 0.5 L at 0.8427 kg/L: the 27th stroke of 100 g brings it."""
    bench = drained()
    bench.mark("refill")
    bench.place(4.6)
    bench.wait(8.0)
    target_kg = bench.drained_kg + 0.5 * 0.8427
    bench.pump(2.6, strokes=26)
    assert bench.added_kg < target_kg < bench.added_kg + 0.1
    due_s = bench.t
    bench.pump(0.3, strokes=3)
    bench.wait(6.0)
    reached = times(answered(bench), "refill-reached")
    assert len(reached) == 1
    assert due_s < reached[0] < due_s + 2.8


def test_less_than_the_target_is_not_told_as_reached() -> None:
    bench = drained()
    fill(bench, 2.0)
    assert times(answered(bench), "refill-reached") == []


def test_litres_that_were_typed_in_count_beside_the_weighed_ones() -> None:
    """At 20 °C; a standard uncertainty of 0.05 L each, so U is 0.1 L at least."""
    bench = drained()
    fill(bench, 1.685)
    bench.samples.append(AddedByHand(bench.t, 0.75))
    refill = answered(bench)["refill"]
    assert refill["added_volume_20C_L"] == pytest.approx(2.0 + 0.75, abs=0.006)
    assert refill["U_volume_L"] == pytest.approx(0.1, abs=0.005)


def test_a_second_scale_weighs_the_jug_while_the_container_stays() -> None:
    jug = Bench(seed=7)
    jug.wait(4.0)
    jug.place(4.6)
    jug.wait(160.0)
    jug.pump(2.0, strokes=20)
    jug.wait(10.0)
    bench = drained()
    bench.mark("refill")
    bench.wait(60.0)
    bench.job = replace(JOB, supply_scale=SCALE)
    counts = [replace(s, is_supply=True) for s in jug.samples if isinstance(s, ScaleCount)]
    both = sorted([*bench.samples, *later(counts, 0.05)], key=lambda s: s.t)
    answer = answered(bench, both)
    assert added_g(answer) == pytest.approx(2000.0, abs=1.0)
    assert answer["drained"]["mass_kg"] == pytest.approx(bench.drained_kg, abs=0.001)


def test_a_scale_that_was_silent_while_fluid_went_in_makes_the_sum_null() -> None:
    bench = drained()
    bench.mark("refill")
    bench.place(4.6)
    bench.wait(8.0)
    bench.pump(0.8, strokes=8)
    bench.is_scale_silent = True
    bench.pump(0.8, strokes=8)
    bench.lift()
    bench.wait(2.0)
    bench.is_scale_silent = False
    bench.wait(10.0)
    answer = answered(bench)
    assert [e["sensor"] for e in answer["events"] if e["event"] == "sensor-fault"] == ["scale"]
    assert answer["refill"]["added_mass_kg"] is None
    assert answer["net"]["volume_20C_L"] is None


def test_common_errors_cancel_in_the_net() -> None:
    """The sheet's density is common to both: U of the net is far below the two in quadrature."""
    bench = drained()
    fill(bench, 2.7)
    answer = answered(bench)
    both_L = (answer["refill"]["U_volume_L"] ** 2 + answer["drained"]["U_volume_L"] ** 2) ** 0.5
    assert answer["net"]["U_volume_L"] < 0.4 * both_L
    net_kg = bench.added_kg - bench.drained_kg
    assert answer["net"]["volume_20C_L"] == pytest.approx(net_kg / 0.8427, abs=0.002)


@pytest.mark.parametrize("heavier_kg", [-0.027, 0.0, 0.025, 0.5])
def test_a_jug_that_weighs_what_the_container_did_takes_nothing_from_what_was_drained(
    heavier_kg: float,
) -> None:
    """Nobody says that the outlet is shut: what stands there shows by what leaves it."""
    bench = Bench()
    bench.wait(4.0)
    bench.place(0.9)
    bench.wait(10.0)
    bench.open_drain(kg=2.2, tau_s=20.0)
    bench.wait(150.0)
    bench.shut()
    kg = bench.lift()
    bench.wait(30.0)
    bench.place(kg + heavier_kg)
    bench.wait(8.0)
    bench.add_kg(0.5)
    bench.wait(6.0)
    bench.pump(2.0, strokes=20)
    bench.wait(8.0)
    answer = answered(bench)
    assert 1000.0 * answer["drained"]["mass_kg"] == pytest.approx(
        1000.0 * bench.drained_kg, abs=2.0
    )
    assert added_g(answer) == pytest.approx(2000.0, abs=2.0)


def unseen(bench: Bench, from_s: float, to_s: float) -> list[Sample]:
    """What a kit heard that was down for a while."""
    return [one for one in bench.samples if not from_s < one.t < to_s]


def jug_with_pump() -> Bench:
    """A jug from which a kilogram has been pumped, the pump still in it."""
    bench = drained()
    bench.mark("refill")
    bench.place(4.6)
    bench.wait(8.0)
    bench.add_kg(0.55)
    bench.wait(6.0)
    bench.pump(1.0, strokes=10)
    return bench


@pytest.mark.parametrize("more_strokes", [0, 3])
def test_a_pump_taken_out_while_the_kit_was_down_is_no_fluid(more_strokes: int) -> None:
    bench = jug_with_pump()
    down_s = bench.t
    if more_strokes:
        bench.pump(0.1 * more_strokes, strokes=more_strokes)
    bench.wait(3.0)
    bench.add_kg(-0.55)
    bench.wait(2.0)
    up_s = bench.t
    bench.wait(8.0)
    bench.lift()
    added = added_g(answered(bench, unseen(bench, down_s, up_s)))
    assert added == pytest.approx(1000.0 * bench.added_kg, abs=5.0)


def test_hard_pumping_while_the_kit_was_down_counts_once_the_pump_is_seen_to_go() -> None:
    """Half a kilogram gone may be the pump; when that is taken out later, it was oil."""
    bench = jug_with_pump()
    down_s = bench.t
    bench.pump(0.6, strokes=6)
    up_s = bench.t
    bench.wait(6.0)
    bench.pump(0.5, strokes=5)
    bench.wait(6.0)
    bench.add_kg(-0.55)
    bench.wait(8.0)
    bench.lift()
    added = added_g(answered(bench, unseen(bench, down_s, up_s)))
    assert added == pytest.approx(2100.0, abs=5.0)
