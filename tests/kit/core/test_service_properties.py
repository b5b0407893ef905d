"""What must not matter to the core does not, and nothing is known before its time."""

import gzip
import random
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from tests.kit.core.bench import Answer, Bench, Spill, answered, later, serve, times

from drainscale.core import Service
from drainscale.quantities.job import Job
from drainscale.quantities.samples import Sample, ScaleCount, StepMark
from drainscale.recording.job_file import read_job
from drainscale.recording.records import Recording
from drainscale.recording.senml import parse_recording, read_recording
from drainscale.recording.writer import write_recording
from drainscale.replay.playback import play

RECORDINGS = Path(__file__).parents[2] / "data/recordings"
TIME_KEYS = ("t", "started_s", "dripped_s", "opens_s", "closes_s", "finishes_s")
INTERVALS = ("opens_90", "closes_90")
few = settings(max_examples=4, suppress_health_check=[HealthCheck.too_slow])


@cache
def service() -> Bench:
    return serve(Bench())


@cache
def answer() -> Answer:
    return answered(service())


@cache
def plain() -> Answer:
    """The answer before it is written down."""
    return _direct(service().job, service().samples)


@cache
def long_spill() -> Bench:
    return serve(Bench(seed=5), spill=Spill(420.0))


def moved(told: Any, by_s: float) -> Any:
    """Shift every time of an answer back."""
    if isinstance(told, dict):
        return {k: _moved_value(k, value, by_s) for k, value in told.items()}
    if isinstance(told, list):
        return [moved(one, by_s) for one in told]
    return told


def _moved_value(key: str, value: Any, by_s: float) -> Any:
    if value is not None and key in TIME_KEYS:
        return value - by_s
    if value is not None and key in INTERVALS:
        return [one - by_s for one in value]
    return moved(value, by_s)


def same(a: Any, b: Any, rel: float = 1e-6, near: float = 0.002, path: str = "") -> None:
    """Hold two answers against each other, number by number."""
    if isinstance(a, dict):
        assert a.keys() == b.keys(), path
        for key in a:
            same(a[key], b[key], rel, near, f"{path}.{key}")
    elif isinstance(a, list):
        assert len(a) == len(b), path
        for i, (x, y) in enumerate(zip(a, b, strict=True)):
            same(x, y, rel, near, f"{path}[{i}]")
    elif isinstance(a, float) and isinstance(b, float):
        assert a == pytest.approx(b, rel=rel, abs=near), path
    else:
        assert a == b, path


def summed(told: Answer) -> list[float]:
    """The masses and the figures of the closing."""
    level = told["level"]
    return [
        told["drained"]["mass_kg"], told["refill"]["added_mass_kg"], told["spill"]["mass_kg"],
        told["net"]["volume_20C_L"], level["temperature_at_close_C"], level["excess_left_mL"],
    ]  # fmt: skip


@few
@given(st.sampled_from([64.0, 3600.0, 40_000.0]))
def test_a_later_start_moves_every_time_and_nothing_else(by_s: float) -> None:
    """But for what rounding makes of instants that are due: a half second at most."""
    shifted = answered(service(), later(service().samples, by_s))
    same(moved(shifted, by_s)["events"], answer()["events"], near=0.61)
    assert summed(shifted)[:5] == pytest.approx(summed(answer())[:5], rel=0.02, abs=2e-4)
    # what is left above the rim, mL: half a second later it is told by one reading more
    assert summed(shifted)[5] == pytest.approx(summed(answer())[5], abs=1.5)
    assert summed(shifted)[:3] == pytest.approx(summed(answer())[:3], abs=2e-4)
    assert shifted["level"]["verdict"] == answer()["level"]["verdict"]


@few
@given(st.sampled_from([-1, 1]), st.integers(-200_000, 200_000))
@example(-1, 0)
def test_counts_that_fall_or_start_elsewhere_give_the_same_answer(sign: int, zero: int) -> None:
    """A cell wired the other way round, and another zero: the calibration goes along."""
    job = service().job
    counts = tuple(sign * count + zero for count in job.scale.calibration_counts)
    other = replace(job, scale=replace(job.scale, calibration_counts=counts))
    samples: list[Sample] = [
        replace(s, count=sign * s.count + zero) if isinstance(s, ScaleCount) else s
        for s in service().samples
    ]
    service_ = Service(other)
    for sample in samples:
        service_.feed(sample)
    same(service_.finish().to_dict(), plain(), rel=1e-6, near=0.001)


def _direct(job: Job, samples: Sequence[Sample]) -> Answer:
    one = Service(job)
    for sample in samples:
        one.feed(sample)
    return one.finish().to_dict()


def test_a_finer_converter_gives_the_same_answer() -> None:
    """Twice the counts for each kilogram, the calibration too."""
    job = service().job
    fine = tuple(2.0 * count for count in job.scale.calibration_counts)
    samples: list[Sample] = [
        replace(s, count=2 * s.count) if isinstance(s, ScaleCount) else s for s in service().samples
    ]
    other = _direct(replace(job, scale=replace(job.scale, calibration_counts=fine)), samples)
    same(other, plain(), rel=1e-9, near=1e-6)


@few
@given(st.sets(st.integers(0, 9)))
@example(set(range(10)))
def test_marks_that_are_missing_keep_the_masses_within_their_uncertainty(gone: set[int]) -> None:
    marks = [s for s in service().samples if isinstance(s, StepMark)]
    left_out = [mark for i, mark in enumerate(marks) if i in gone]
    told = answered(service(), [s for s in service().samples if s not in left_out])
    for part, key, true_kg in (
        ("drained", "mass_kg", service().drained_kg),
        ("refill", "added_mass_kg", service().added_kg),
        ("spill", "mass_kg", service().spilled_kg),
    ):
        assert abs(told[part][key] - true_kg) <= told[part]["U_volume_L"] * 0.85 + 0.0005, part
    assert told["level"]["verdict"] == "closed-in-window"


@few
@given(st.lists(st.floats(-4.0, 4.0), min_size=10, max_size=10))
def test_marks_some_seconds_off_keep_the_masses(off_s: list[float]) -> None:
    marks = [s for s in service().samples if isinstance(s, StepMark)]
    rest = [s for s in service().samples if not isinstance(s, StepMark)]
    # a person is never so late that steps come in another order
    early = [replace(m, t=round(max(m.t + o, 0.0), 3)) for m, o in zip(marks, off_s, strict=True)]
    early.sort(key=lambda s: s.t)
    told = answered(service(), sorted([*rest, *early], key=lambda s: s.t))
    assert told["drained"]["mass_kg"] == pytest.approx(service().drained_kg, abs=0.002)
    assert told["refill"]["added_mass_kg"] == pytest.approx(service().added_kg, abs=0.002)
    assert told["spill"]["mass_kg"] == pytest.approx(service().spilled_kg, abs=0.002)


@few
@given(st.floats(0.5, 0.95), st.integers(0, 10_000))
def test_half_of_the_samples_missing_keeps_the_masses(kept: float, seed: int) -> None:
    rng = random.Random(seed)
    samples = [s for s in service().samples if not isinstance(s, ScaleCount) or rng.random() < kept]
    told = answered(service(), samples)
    assert told["drained"]["mass_kg"] == pytest.approx(service().drained_kg, abs=0.003)
    assert told["refill"]["added_mass_kg"] == pytest.approx(service().added_kg, abs=0.003)


# --- causality -------------------------------------------------------------------------------


def told_until(told: Answer, t: float) -> tuple[list[Any], list[Any]]:
    return (
        [one for one in told["events"] if one["t"] <= t],
        [one for one in told["forecasts"] if one["t"] <= t],
    )


@pytest.mark.parametrize("bench", [service, long_spill])
def test_nothing_is_told_before_it_can_be_known(bench: Any) -> None:
    """Cut anywhere: what was told until then is what is told of the whole until then."""
    whole = answered(bench())
    samples = bench().samples
    for share in (0.05, 0.3, 0.45, 0.7, 0.86, 0.95):
        cut = samples[: int(share * len(samples))]
        events, forecasts = told_until(whole, cut[-1].t)
        part = answered(bench(), cut)
        # of one instant, the samples behind the cut may tell more
        last = [one for one in events if one["t"] < cut[-1].t]
        assert part["events"][: len(last)] == last
        assert len(part["events"]) <= len(events)
        assert part["forecasts"] == forecasts[: len(part["forecasts"])]
        assert len(forecasts) - len(part["forecasts"]) <= 1


@pytest.mark.parametrize("name", ["knocks-and-moves", "sensor-faults", "no-marks"])
def test_events_of_a_cut_recording_are_those_of_the_whole(name: str) -> None:
    recording = read_recording(RECORDINGS / f"{name}.sensml.gz")
    job = read_job(RECORDINGS / f"{name}.job.toml")
    one = Service(job)
    seen: list[Any] = []
    for sample in recording.samples:
        # an event's time is that of the sample that it was told at
        for event in one.feed(sample):
            assert event.t <= sample.t
            seen.append(event.to_dict())
    assert seen == one.finish().to_dict()["events"]
    half = recording.samples[: len(recording.samples) * 2 // 3]
    part = _direct(job, half)["events"]
    assert part == [event for event in seen if event["t"] <= half[-1].t][: len(part)]


def test_asking_for_the_result_in_between_changes_nothing() -> None:
    one = Service(service().job)
    for i, sample in enumerate(service().samples):
        one.feed(sample)
        if i % 400 == 0:
            one.finish().to_dict()
    same(one.finish().to_dict(), plain(), rel=0.0, near=0.0)


# --- pieces ----------------------------------------------------------------------------------


@cache
def packed_recording() -> tuple[bytes, Job, Answer]:
    """The first minutes of a recording, its job, and what comes of it in one piece."""
    raw = gzip.decompress((RECORDINGS / "several-jugs.sensml.gz").read_bytes())[:250_000]
    raw = raw[: raw.rindex(b"\n")]
    job = read_job(RECORDINGS / "several-jugs.job.toml")
    return raw, job, play(parse_recording(raw, "rec"), job).to_dict()


@settings(max_examples=4, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.integers(1, 200_000), max_size=6))
@example([])
def test_a_recording_packed_in_any_pieces_gives_the_same_answer(cuts: list[int]) -> None:
    """RFC 1952, 2.2: a gzip file is a series of members."""
    raw, job, whole = packed_recording()
    ends = [0, *sorted(cuts), len(raw)]
    packed = b"".join(gzip.compress(raw[a:b], 1) for a, b in pairwise(ends))
    assert play(parse_recording(packed, "rec"), job).to_dict() == whole
    assert times(whole, "flow-started")


def test_a_service_written_and_read_again_gives_the_same_answer(tmp_path: Path) -> None:
    path = tmp_path / "made-up.sensml.gz"
    recording = Recording("urn:dev:ops:bench-7:", 1_790_176_804.0, service().samples)
    write_recording(path, recording, is_packed=True)
    told = play(read_recording(path), service().job).to_dict()
    assert told == plain()
