"""The parts of the bench, but no time: what is timed there is not tested here."""

from itertools import pairwise
from pathlib import Path
from statistics import fmean

import pytest

from drainscale.quantities.job import Job
from drainscale.quantities.samples import ScaleCount
from drainscale.recording.job_file import read_job
from drainscale.recording.records import Recording
from drainscale.recording.senml import read_recording
from drainscale_sim.bench.command import Line
from drainscale_sim.bench.fast_recording import LASTS_S, RATE_HZ, made_fast
from drainscale_sim.bench.per_sample import sample_costs
from drainscale_sim.bench.yardstick import filter_step_s

RECORDINGS = Path(__file__).parents[1] / "data/recordings"


@pytest.fixture(scope="module")
def slow() -> tuple[Recording, Job]:
    folder = RECORDINGS
    return (
        read_recording(folder / "several-jugs.sensml.gz"),
        read_job(folder / "several-jugs.job.toml"),
    )


@pytest.fixture(scope="module")
def fast(slow: tuple[Recording, Job]) -> tuple[Recording, Job]:
    return made_fast(*slow)


def counts(recording: Recording) -> list[ScaleCount]:
    return [one for one in recording.samples if isinstance(one, ScaleCount)]


def test_a_fast_recording_lasts_45_minutes_at_80_a_second(fast: tuple[Recording, Job]) -> None:
    recording, job = fast
    found = counts(recording)
    assert recording.samples[-1].t == pytest.approx(LASTS_S, abs=1.0)
    assert len(found) == pytest.approx(LASTS_S * RATE_HZ, rel=0.03)
    assert job.scale.rate_Hz == RATE_HZ


def test_its_times_never_go_back(fast: tuple[Recording, Job]) -> None:
    assert all(a.t <= b.t for a, b in pairwise(fast[0].samples))


def test_it_weighs_the_same_and_keeps_everything_else(
    slow: tuple[Recording, Job], fast: tuple[Recording, Job]
) -> None:
    before, after = counts(slow[0]), counts(fast[0])
    assert fmean(one.count for one in after) == pytest.approx(
        fmean(one.count for one in before), rel=0.01
    )
    assert len(slow[0].samples) - len(before) == len(fast[0].samples) - len(after)


def test_it_is_the_same_each_time(slow: tuple[Recording, Job], fast: tuple[Recording, Job]) -> None:
    assert made_fast(*slow)[0].samples == fast[0].samples


def test_every_sample_is_in_the_costs(slow: tuple[Recording, Job]) -> None:
    recording, job = slow
    first = recording.samples[:3000]
    assert sum(cost.n for cost in sample_costs(first, job).values()) == len(first)


def test_the_yardstick_runs() -> None:
    pytest.importorskip("filterpy")
    assert filter_step_s(50) > 0.0


def test_a_line_keeps_limits_on_its_own_side() -> None:
    assert Line("cheaper by", 3.1, "times", 3.0, 5.0, is_least=True).keeps(3.0) is True
    assert Line("cheaper by", 2.9, "times", 3.0, 5.0, is_least=True).keeps(3.0) is False
    assert Line("wall", 6.1, "s", 6.0, 2.0).keeps(6.0) is False
    assert Line("wall", 6.1, "s").keeps(None) is None
