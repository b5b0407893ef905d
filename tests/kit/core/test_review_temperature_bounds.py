"""A clamp put on a warm pan, and priors that say nothing, must not blow the filter up."""

from dataclasses import replace

import pytest
from tests.kit.core.bench import JOB, Bench, WarmUp, serve

from drainscale.core import Service
from drainscale.quantities.job import Job


def replayed(bench: Bench, job: Job) -> dict[str, dict[str, float]]:
    service = Service(job)
    for sample in bench.samples:
        service.feed(sample)
    return service.finish().to_dict()


def test_a_clamp_put_on_a_warm_pan_in_the_first_minute_is_no_engine_start() -> None:
    """The skin climbs from 18 to 57 °C by the clamp's lag of 25 s, while nothing heats."""
    bench = Bench(warm_up=WarmUp(start_C=62.0))
    bench.place(0.9)
    bench.wait(300.0)
    service = Service(JOB)
    for sample in bench.samples:
        service.feed(sample)
    now = service.live()
    assert now.fluid_C == pytest.approx(62.0, abs=3.0)


@pytest.mark.parametrize(
    "wide",
    [
        {"surface_ratio_u": 1e9},
        {"surface_ratio_u": 1e200},
        {"sensor_u_C": 1e9},
        {"sensor_u_C": 1e200},
        {"surface_ratio": 1e-300},
    ],
)
def test_a_service_is_weighed_whatever_little_is_known_of_the_clamp(wide: dict[str, float]) -> None:
    job = replace(JOB, pan_sensor=replace(JOB.pan_sensor, **wide))
    bench = serve(Bench())
    answer = replayed(bench, job)
    assert answer["drained"]["mass_kg"] == pytest.approx(bench.drained_kg, abs=0.002)
