"""Services that repeat: topped up, started over, the container never moved, marks a bit early."""

from dataclasses import replace

import pytest
from tests.kit.core.bench import (
    JOB,
    SCALE,
    Bench,
    Spill,
    fill,
    shown,
    warm_and_check,
    without_marks,
)

from drainscale.core import Result, Service
from drainscale.quantities.job import Job
from drainscale.quantities.samples import Sample, ScaleCount

Answer = dict[str, object]


class TwoScales(Bench):
    """A bench whose jug stands on a scale of its own."""

    jug_kg = 0.0

    def _weigh(self, reading_kg: float) -> None:
        super()._weigh(reading_kg)
        noisy_kg = self.jug_kg + self._random.gauss(0.0, self.noise_kg)
        count = round(80_000.0 + 420_000.0 * noisy_kg)
        self.samples.append(ScaleCount(self.t, count, is_supply=True))

    def pump_jug(self, kg: float, strokes: int) -> None:
        """Pump out of the jug on the second scale."""
        for _ in range(4 * strokes):
            self.added_kg += kg / (4 * strokes)
            self.jug_kg -= shown(kg / (4 * strokes))
            self.wait(0.4)


def replayed(samples: list[Sample], job: Job = JOB) -> Result:
    service = Service(job)
    for sample in samples:
        service.feed(sample)
    return service.finish()


def steps_of(result: Result) -> list[str]:
    return [record.step.value for record in result.story.steps.records]


def drain(bench: Bench) -> None:
    bench.wait(4.0)
    bench.place(0.9)
    bench.wait(8.0)
    bench.mark("drain")
    bench.open_drain(kg=2.2, tau_s=25.0)
    bench.wait(110.0)
    bench.mark("drain-pan")
    bench.open_drain(kg=0.5, tau_s=15.0)
    bench.wait(110.0)
    bench.mark("refit")
    bench.shut()
    bench.wait(20.0)


def warm_to(bench: Bench, fluid_C: float) -> None:
    bench.mark("circulate")
    bench.start_engine()
    bench.wait(25.0)
    bench.mark("warm")
    bench.wait(bench.warm_up.reaches_s(fluid_C) - 25.0)


def check(bench: Bench, excess_mL: float) -> None:
    bench.mark("level")
    bench.open_check(Spill(excess_mL))
    bench.wait(90.0)
    bench.shut()


def two_scales(*, overflow_mL: float = 0.0) -> TwoScales:
    """A service in which the drain container never leaves the platform."""
    bench = TwoScales(job=replace(JOB, supply_scale=SCALE))
    drain(bench)
    bench.mark("refill")
    bench.jug_kg = 4.6
    bench.wait(8.0)
    bench.pump_jug(3.2, strokes=30)
    bench.wait(8.0)
    if overflow_mL:
        bench.open_check(Spill(overflow_mL))
        bench.wait(60.0)
        bench.shut()
        bench.wait(20.0)
    warm_to(bench, 37.0)
    check(bench, 180.0)
    bench.mark("seal")
    bench.wait(10.0)
    bench.lift()
    return bench


@pytest.mark.parametrize("overflow_mL", [0.0, 100.0])
def test_a_container_left_in_place_gives_drain_overflow_and_spill_apart(overflow_mL: float) -> None:
    bench = two_scales(overflow_mL=overflow_mL)
    result = replayed(bench.samples, bench.job)
    assert result.drained is not None
    assert result.spill is not None
    assert result.drained.mass_kg.value == pytest.approx(bench.drained_kg, abs=0.002)
    assert result.spill.mass_kg.value == pytest.approx(bench.spilled_kg, abs=0.002)


def test_a_jug_left_on_its_scale_is_no_new_filling() -> None:
    bench = two_scales()
    steps = steps_of(replayed(bench.samples, bench.job))
    assert steps[4:] == ["refill", "circulate", "warm", "level", "seal", "done"]


def test_a_mark_eight_seconds_before_the_last_stroke_is_taken_at_its_word() -> None:
    bench = Bench()
    drain(bench)
    bench.lift()
    bench.mark("refill")
    bench.place(4.6)
    bench.wait(8.0)
    bench.pump(2.7, strokes=27)
    bench.mark("circulate")
    bench.pump(0.5, strokes=5)
    bench.wait(4.0)
    result = replayed(bench.samples)
    assert steps_of(result)[4:] == ["refill", "circulate"]
    assert "refill-reached" in {event.event for event in result.story.events}


def topped_up() -> Bench:
    bench = Bench()
    drain(bench)
    bench.lift()
    fill(bench, 2.9)
    bench.mark("circulate")
    bench.start_engine()
    bench.wait(60.0)
    fill(bench, 0.6)
    bench.wait(30.0)
    return bench


def test_topping_up_with_the_engine_running_is_one_refill() -> None:
    bench = topped_up()
    result = replayed(bench.samples)
    assert steps_of(result)[4:] == ["refill", "circulate", "warm", "refill", "warm"]
    assert result.refill is not None
    assert result.refill.mass_kg.value == pytest.approx(3.5, abs=0.002)


def test_topping_up_is_seen_without_marks() -> None:
    steps = steps_of(replayed(without_marks(topped_up().samples)))
    assert steps[4:] == ["refill", "warm", "refill", "warm"]


@pytest.mark.parametrize("is_lifted", [True, False])
@pytest.mark.parametrize("is_marked", [True, False])
def test_after_an_overrun_the_second_attempt_counts(is_lifted: bool, is_marked: bool) -> None:
    """The plug is shut too hot, the engine cools for a quarter of an hour, all starts again."""
    bench = Bench()
    drain(bench)
    bench.lift()
    fill(bench, 3.4)
    bench.place(0.9)
    warm_to(bench, 43.5)
    check(bench, 500.0)
    bench.mark("seal")
    bench.wait(10.0)
    if is_lifted:
        bench.lift()
    bench.engine_s = None
    bench.wait(900.0)
    if is_lifted:
        bench.place(0.9)
    bench.mark("warm")
    bench.start_engine()
    bench.wait(bench.warm_up.reaches_s(37.0))
    check(bench, 150.0)
    bench.mark("seal")
    bench.wait(10.0)
    result = replayed(bench.samples if is_marked else without_marks(bench.samples))
    assert result.spill is not None
    assert result.check is not None
    assert result.spill.mass_kg.value == pytest.approx(bench.spilled_kg, abs=0.002)
    assert result.check.spill_s == pytest.approx(bench.started_s["spill"], abs=1.0)


@pytest.mark.parametrize("is_marked", [True, False])
def test_a_flow_starts_in_the_step_that_begins_with_it(is_marked: bool) -> None:
    bench = Bench()
    drain(bench)
    samples = bench.samples if is_marked else without_marks(bench.samples)
    events = replayed(samples).story.events
    told = [event.step.value for event in events if event.event == "flow-started"]
    assert told == ["drain", "drain-pan"]


def test_a_check_of_which_no_temperature_is_known_is_not_measured() -> None:
    bench = Bench(pan_fault=True)
    drain(bench)
    bench.lift()
    warm_and_check(bench, Spill(180.0))
    result = replayed(bench.samples)
    assert result.to_dict()["level"]["verdict"] == "not-measured"


def test_a_window_that_the_fluid_never_saw_is_not_reached() -> None:
    bench = Bench()
    drain(bench)
    bench.lift()
    warm_to(bench, 30.0)
    result = replayed(bench.samples)
    assert result.to_dict()["level"]["verdict"] == "not-reached"
