"""A made-up bench and job that the tests of this room share."""

import pytest

from drainscale.messages.topics import BenchId
from drainscale.quantities.job import (
    Container,
    FluidSheet,
    Job,
    PanSensor,
    ProcedureLimits,
    ScaleSettings,
)


@pytest.fixture
def bench_id() -> BenchId:
    return BenchId("north", "bay-3")


@pytest.fixture
def job() -> Job:
    return Job(
        procedure=ProcedureLimits("standpipe", (35.0, 45.0), 0.6, 60.0, 3.0),
        fluid=FluidSheet(846.0, 15.0, 1.5, 29.5, 6.0),
        scale=ScaleSettings(20.0, 10.0, (0.0, 5.0), (81234.0, 2180321.0), 5e-4, 4e-4),
        pan_sensor=PanSensor(0.9, 0.03, 25.0, 6.0, 0.7),
        container=Container(8.0),
    )
