"""A clamp that is put on a warm pan shows a rise before anything was drained."""

import pytest
from tests.kit.core.bench import Bench, WarmUp, without_marks

from drainscale.core import Service


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
