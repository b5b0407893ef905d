"""What a converter of one conversion a second, the slowest allowed, can still tell."""

from dataclasses import replace

import pytest
from tests.kit.core.bench import JOB, SCALE, Bench, Spill, answered, fill, warm_and_check

from drainscale.core import Result, Service


def slow_service() -> Bench:
    bench = Bench(job=replace(JOB, scale=replace(SCALE, rate_Hz=1.0)))
    bench.wait(10.0)
    bench.place(0.9)
    bench.wait(12.0)
    bench.open_drain(kg=2.2, tau_s=25.0)
    bench.wait(110.0)
    bench.open_drain(kg=0.5, tau_s=15.0)
    bench.wait(110.0)
    bench.shut()
    bench.lift()
    bench.wait(6.0)
    fill(bench, 3.2)
    bench.wait(6.0)
    warm_and_check(bench, Spill(180.0))
    return bench


def test_one_conversion_a_second_is_enough() -> None:
    bench = slow_service()
    service = Service(bench.job)
    for sample in bench.samples:
        service.feed(sample)
    result: Result = service.finish()
    assert result.drained is not None
    assert result.refill is not None
    assert result.drained.mass_kg.value == pytest.approx(bench.drained_kg, abs=0.005)
    assert result.refill.mass_kg.value == pytest.approx(bench.added_kg, abs=0.003)


@pytest.mark.parametrize(
    ("first_kg", "second_kg"), [(1.2, 4.6), (4.6, 1.2), (1.2, 1.2), (2.0, 1.9)]
)
@pytest.mark.parametrize("pump_kg", [0.0, 0.5])
def test_a_jug_that_is_changed_between_two_conversions_is_another_jug(
    first_kg: float, second_kg: float, pump_kg: float
) -> None:
    bench = Bench(job=replace(JOB, scale=replace(SCALE, rate_Hz=1.0)))
    bench.wait(4.0)
    bench.place(0.9)
    bench.wait(10.0)
    bench.mark("drain")
    bench.open_drain(kg=2.2, tau_s=20.0)
    bench.wait(110.0)
    bench.mark("refit")
    bench.shut()
    bench.wait(6.0)
    bench.lift()  # too quick for it: the first jug stands there at the next conversion but one
    bench.mark("refill")
    bench.place(first_kg)
    for pumped_kg in (0.8, 0.6):
        bench.wait(8.0)
        if pump_kg:
            bench.add_kg(pump_kg)
            bench.wait(6.0)
        bench.pump(pumped_kg, strokes=8, every_s=2.0)
        bench.wait(8.0)
        if pump_kg:
            bench.add_kg(-pump_kg)
            bench.wait(4.0)
        bench.load_kg = second_kg
    added_kg = answered(bench)["refill"]["added_mass_kg"]
    assert added_kg == pytest.approx(bench.added_kg, abs=0.003)
