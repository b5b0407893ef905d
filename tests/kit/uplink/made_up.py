"""A made-up bench, job and samples that the tests of the uplink share."""

from drainscale.messages.records import JobOpened
from drainscale.messages.topics import BenchId
from drainscale.quantities.job import (
    Container,
    FluidSheet,
    Job,
    PanSensor,
    ProcedureLimits,
    ScaleSettings,
)
from drainscale.quantities.samples import PanReading, Sample, ScaleCount

BAY_3 = BenchId("north", "bay-3")

OPENED = JobOpened(
    base_time_s=1790176804.0,
    is_clock_set=True,
    kernel_boot="k1",
    started_monotonic_s=81.25,
    kit_version="0.1.0",
    spec=Job(
        procedure=ProcedureLimits("standpipe", (35.0, 45.0), 0.6, 60.0, 3.0),
        fluid=FluidSheet(846.0, 15.0, 1.5, 29.5, 6.0),
        scale=ScaleSettings(20.0, 10.0, (0.0, 5.0), (81234.0, 2180321.0), 5e-4, 4e-4),
        pan_sensor=PanSensor(0.9, 0.03, 25.0, 6.0, 0.7),
        container=Container(8.0),
    ),
)


def sample_at(number: int) -> Sample:
    """Make the sample of a number: ten a second, each one other than all before."""
    t = round(number / 10.0, 6)
    return PanReading(t, 20.0 + number / 4.0) if number % 7 == 3 else ScaleCount(t, 1000 + number)


def samples_of(first: int, n: int) -> list[Sample]:
    """Make ``n`` samples from a number on."""
    return [sample_at(number) for number in range(first, first + n)]
