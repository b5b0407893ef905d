"""A scale that says nothing while fluid goes in: null, unless both sides of it are one jug."""

from collections.abc import Callable

import pytest
from tests.kit.core.bench import JOB, Bench, answered, with_first_jug

from drainscale.core import Result, Service


def replayed(bench: Bench) -> Result:
    service = Service(JOB)
    for sample in bench.samples:
        service.feed(sample)
    return service.finish()


def filling() -> Bench:
    """Drained, and 1.6 kg out of a first jug."""
    bench = with_first_jug()
    bench.pump(1.6, strokes=16)
    return bench


def test_a_silence_in_mid_stroke_is_bridged_by_the_jug_itself() -> None:
    bench = filling()
    bench.is_scale_silent = True
    bench.pump(0.8, strokes=8)
    bench.is_scale_silent = False
    bench.pump(0.8, strokes=8)
    bench.wait(5.0)
    result = replayed(bench)
    assert result.refill is not None
    assert result.refill.mass_kg.value == pytest.approx(bench.added_kg, abs=0.002)


def test_a_jug_taken_away_during_a_silence_gives_no_sum() -> None:
    bench = filling()
    bench.wait(10.0)
    bench.is_scale_silent = True
    bench.pump(1.6, strokes=16)
    bench.lift()
    bench.is_scale_silent = False
    bench.wait(10.0)
    result = replayed(bench)
    assert result.refill is None
    assert result.net is None


@pytest.mark.parametrize("is_marked_in_between", [True, False])
def test_a_whole_jug_during_a_silence_gives_no_sum(is_marked_in_between: bool) -> None:
    bench = filling()
    bench.wait(4.0)
    bench.lift()
    bench.is_scale_silent = True
    bench.place(4.6)
    bench.pump(1.6, strokes=16)
    bench.lift()
    if is_marked_in_between:
        bench.mark("circulate")
    bench.is_scale_silent = False
    bench.wait(10.0)
    assert replayed(bench).refill is None


def test_another_jug_after_a_silence_gives_no_sum() -> None:
    bench = filling()
    bench.wait(4.0)
    bench.is_scale_silent = True
    bench.pump(1.6, strokes=16)
    bench.lift()
    bench.place(4.6)
    bench.is_scale_silent = False
    bench.wait(10.0)
    assert replayed(bench).refill is None


def test_a_jug_lifted_right_after_its_last_stroke_is_read_at_the_end() -> None:
    bench = filling()
    bench.lift()
    bench.wait(5.0)
    result = replayed(bench)
    assert result.refill is not None
    assert result.refill.mass_kg.value == pytest.approx(1.6, abs=0.003)


@pytest.mark.parametrize("swapped_kg", [1.1, 2.4, 3.6])
def test_a_container_changed_while_nothing_was_heard_is_no_spill(swapped_kg: float) -> None:
    """The plug is open, nothing runs: whatever stands there after the silence is no oil."""
    bench = Bench()
    bench.mark("warm")
    bench.place(3.0)
    bench.wait(20.0)
    bench.start_engine()
    bench.wait(20.0)
    bench.mark("level")
    bench.wait(20.0)
    bench.is_scale_silent = True
    bench.wait(12.0)
    bench.load_kg = swapped_kg
    bench.is_scale_silent = False
    bench.wait(40.0)
    bench.mark("seal")
    bench.wait(5.0)
    spilled = answered(bench)["spill"]["mass_kg"]
    assert spilled is None or abs(spilled) < 0.002


def silently(bench: Bench, act: Callable[[], object]) -> None:
    """Do something while the scale says nothing; five seconds of it at least."""
    bench.is_scale_silent = True
    bench.wait(5.0)
    act()
    bench.is_scale_silent = False


def set_pump_in_and_pump(bench: Bench) -> None:
    bench.add_kg(0.4)
    bench.wait(2.0)
    bench.pump(0.25, strokes=3)


def test_a_pump_set_in_and_used_during_a_silence_is_balanced_when_it_comes_out() -> None:
    bench = with_first_jug()
    silently(bench, lambda: set_pump_in_and_pump(bench))
    bench.pump(1.6, strokes=16)
    bench.wait(4.0)
    bench.add_kg(-0.4)
    bench.wait(5.0)
    bench.lift()
    bench.wait(5.0)
    result = replayed(bench)
    assert result.refill is not None
    assert result.refill.mass_kg.value == pytest.approx(bench.added_kg, abs=0.002)


def test_a_pump_set_in_unseen_and_never_seen_out_gives_no_sum() -> None:
    bench = with_first_jug()
    silently(bench, lambda: set_pump_in_and_pump(bench))
    bench.pump(1.6, strokes=16)
    bench.wait(5.0)
    bench.lift()
    bench.wait(5.0)
    assert replayed(bench).refill is None


def test_a_jug_whose_pump_was_seen_out_may_go_during_a_short_silence() -> None:
    bench = with_first_jug()
    bench.add_kg(0.4)
    bench.wait(5.0)
    bench.pump(1.6, strokes=16)
    bench.wait(4.0)
    bench.add_kg(-0.4)
    bench.wait(2.0)
    silently(bench, bench.lift)
    bench.wait(5.0)
    result = replayed(bench)
    assert result.refill is not None
    assert result.refill.mass_kg.value == pytest.approx(bench.added_kg, abs=0.002)
