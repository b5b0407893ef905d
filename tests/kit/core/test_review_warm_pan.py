"""A clamp that is put on a warm pan shows a rise before anything was drained."""

import pytest
from tests.kit.core.bench import Bench, WarmUp, answered, without_marks

from drainscale.core import Service
from drainscale.quantities.density import FluidDensity


@pytest.mark.parametrize("is_marked", [True, False])
def test_a_rise_before_the_drain_is_not_the_engine(is_marked: bool) -> None:
    bench = Bench(warm_up=WarmUp(start_C=62.0))
    bench.place(0.9)
    bench.wait(40.0)
    bench.mark("drain")
    bench.wait(3.0)
    bench.open_drain(kg=2.2, tau_s=25.0)
    bench.wait(150.0)
    bench.shut()
    bench.wait(8.0)
    service = Service(bench.job)
    for sample in bench.samples if is_marked else without_marks(bench.samples):
        service.feed(sample)
    result = service.finish()
    assert result.drained is not None
    assert result.drained.mass_kg.value == pytest.approx(bench.drained_kg, abs=0.002)
    assert result.story.step.value == "drain"


@pytest.mark.parametrize("start_C", [40.0, 62.0, 80.0])
@pytest.mark.parametrize("wait_s", [5.0, 40.0])
def test_oil_drained_soon_after_the_clamp_was_put_on_is_booked_as_warm(
    start_C: float, wait_s: float
) -> None:
    """4 kg of it are 0.07 %/K larger than at the air's 18 °C: up to 0.2 L."""
    bench = Bench(warm_up=WarmUp(start_C=start_C))
    bench.place(0.9)
    bench.wait(wait_s)
    bench.mark("drain")
    bench.wait(3.0)
    bench.open_drain(kg=4.0, tau_s=25.0)
    bench.wait(150.0)
    bench.shut()
    bench.mark("refit")
    bench.wait(8.0)
    drained = answered(bench)["drained"]
    per_L = FluidDensity(bench.job.fluid).density_kg_per_m3(start_C) / 1000.0
    assert drained["volume_L"] == pytest.approx(bench.drained_kg / per_L, abs=0.010)
    assert abs(drained["volume_L"] - bench.drained_kg / per_L) < drained["U_volume_L"]


@pytest.mark.parametrize("start_C", [40.0, 80.0])
def test_a_clamp_put_on_a_warm_pan_tells_the_oil_within_half_a_minute(start_C: float) -> None:
    """And never tells a cold oil for sure meanwhile: the skin's lag is 25 s."""
    bench = Bench(warm_up=WarmUp(start_C=start_C))
    bench.place(0.9)
    bench.wait(200.0)
    service = Service(bench.job)
    for sample in bench.samples:
        service.feed(sample)
        live = service.live() if sample.t > 30.0 and sample.t % 10.0 == 0.0 else None
        if live is not None:
            assert live.fluid_C is not None
            assert live.U_fluid_C is not None
            assert abs(live.fluid_C - start_C) < live.U_fluid_C
