"""Recordings that nobody would make end in an answer of the right form, or in one clear line."""

import gzip
import random
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.kit.core.bench import Bench, Spill, serve

from drainscale.quantities.samples import (
    PAN_FAULTS,
    STEP_NAMES,
    AddedByHand,
    BoardReading,
    PanFault,
    PanReading,
    Reference,
    Sample,
    ScaleCount,
    StepMark,
)
from drainscale.recording.encode import base_line, sample_line

if TYPE_CHECKING:
    from tests.kit.replay.conftest import Replay

RECORDINGS = Path(__file__).parents[2] / "data/recordings"
TOP, BOTTOM = 8_388_607, -8_388_608
calls = settings(
    max_examples=40,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


def written(samples: list[Sample]) -> bytes:
    lines = [base_line("urn:dev:ops:bench-7:", 1_790_176_804.0), *map(sample_line, samples)]
    return b"[" + b",\n".join(lines) + b"\n]\n"


# --- random samples of all kinds ----------------------------------------------------------------

counts = st.integers(BOTTOM, TOP) | st.sampled_from([TOP, BOTTOM, 0, 80_000, 900_000, 900_001])
values = st.floats(allow_nan=False, allow_infinity=False) | st.floats(-50.0, 150.0)
kinds: st.SearchStrategy[Callable[[float], Sample]] = st.one_of(
    st.builds(lambda v, s: lambda t: ScaleCount(t, v, s), counts, st.booleans()),
    st.builds(lambda v: lambda t: PanReading(t, v), values),
    st.builds(lambda v: lambda t: BoardReading(t, v), values),
    st.builds(lambda v: lambda t: Reference(t, v), values),
    st.builds(lambda v: lambda t: AddedByHand(t, v), values),
    st.builds(lambda v: lambda t: PanFault(t, v), st.sampled_from(PAN_FAULTS)),
    st.builds(lambda v: lambda t: StepMark(t, v), st.sampled_from(STEP_NAMES)),
)
# repeated, so that a few draws make minutes of readings
stretches = st.tuples(kinds, st.sampled_from([0.0, 0.1, 0.5, 7.0, 4000.0]), st.integers(1, 60))


@calls
@given(st.lists(stretches, max_size=12))
def test_any_samples_in_any_order_have_an_answer(
    replay: "Replay", drawn: list[tuple[Callable[[float], Sample], float, int]]
) -> None:
    samples: list[Sample] = []
    t = 0.0
    for make, dt, times in drawn:
        for _ in range(times):
            t = round(t + dt, 6)
            samples.append(make(t))
    ended = replay(written(samples), None)
    assert ended.status == 0
    assert ended.is_sound()


levels = st.tuples(st.integers(70_000, 6_000_000), st.integers(-9_000, 9_000), st.integers(1, 120))


@calls
@given(
    st.lists(levels, min_size=1, max_size=10), st.lists(st.sampled_from(STEP_NAMES), max_size=10)
)
def test_any_loads_flows_and_marks_have_an_answer(
    replay: "Replay", drawn: list[tuple[int, int, int]], marks: list[str]
) -> None:
    """Steps up and down, flows either way, with a mark in between."""
    rng = random.Random(1)
    samples: list[Sample] = []
    t = 0.0
    for i, (level, slope, tenths) in enumerate(drawn):
        if i < len(marks):
            samples.append(StepMark(t, marks[i]))
        for k in range(tenths):
            t = round(t + 0.1, 6)
            count = level + slope * k + round(rng.gauss(0.0, 60.0))
            samples.append(ScaleCount(t, max(min(count, TOP), BOTTOM)))
            if k % 10 == 0:
                samples.append(PanReading(t, 18.0 + 0.25 * i))
    ended = replay(written(samples), None)
    assert ended.status == 0
    assert ended.is_sound()


# --- a whole service, spoiled -------------------------------------------------------------------


@cache
def service() -> list[Sample]:
    return serve(Bench(), spill=Spill(240.0)).samples


def spoil_counts(rng: random.Random, part: list[Sample]) -> list[Sample]:
    how = rng.choice(["stuck", "top", "bottom", "noise", "zero"])
    count = {"stuck": 1_000_000, "top": TOP, "bottom": BOTTOM, "zero": 80_000}.get(how)
    out: list[Sample] = []
    for s in part:
        if isinstance(s, ScaleCount):
            noisy = max(min(s.count + round(rng.gauss(0.0, 50_000.0)), TOP), BOTTOM)
            out.append(replace(s, count=noisy if count is None else count))
        else:
            out.append(s)
    return out


def spoil_pan(rng: random.Random, part: list[Sample]) -> list[Sample]:
    value_C = rng.choice([-273.0, 60.0, 1e6, 18.0])
    return [PanReading(s.t, value_C) if isinstance(s, PanReading) else s for s in part]


def spoil_marks(rng: random.Random, part: list[Sample]) -> list[Sample]:
    out: list[Sample] = []
    for s in part:
        out.append(s)
        if rng.random() < 0.005:
            out += [StepMark(s.t, rng.choice(STEP_NAMES)) for _ in range(rng.randint(1, 4))]
    return out


def spoil_time(rng: random.Random, part: list[Sample]) -> list[Sample]:
    """All at one instant: twice as many samples as time."""
    return [replace(s, t=part[0].t) for s in part]


def leave_out(rng: random.Random, part: list[Sample]) -> list[Sample]:
    return []


SPOILERS = (spoil_counts, spoil_pan, spoil_marks, spoil_time, leave_out)


@pytest.mark.parametrize("seed", range(14))
def test_a_spoiled_service_has_an_answer(seed: int, replay: "Replay") -> None:
    """Three stretches spoiled, each its own way."""
    rng = random.Random(seed)
    samples = service()
    for _ in range(3):
        a = rng.randrange(len(samples))
        b = a + rng.choice([1, 50, 600, 3000])
        if samples[a:b]:
            spoil = SPOILERS[(seed + _) % len(SPOILERS)]
            samples = [*samples[:a], *spoil(rng, samples[a:b]), *samples[b:]]
    ended = replay(written(samples), None)
    assert ended.status == 0
    assert ended.is_sound()


@pytest.mark.parametrize("factor", [0.01, 100.0])
def test_a_service_in_another_tempo_has_an_answer(factor: float, replay: "Replay") -> None:
    """A clock that runs wild: a thousand conversions a second, or one in ten seconds."""
    samples = [replace(s, t=round(s.t * factor, 6)) for s in service()]
    ended = replay(written(samples), None)
    assert ended.status == 0
    assert ended.is_sound()


def test_a_service_of_one_instant_has_an_answer(replay: "Replay") -> None:
    ended = replay(written([replace(s, t=5.0) for s in service()]), None)
    assert ended.status == 0
    assert ended.is_sound()


# --- bytes --------------------------------------------------------------------------------------


@cache
def real() -> bytes:
    """The first minutes of a real recording's text, whole lines, closed."""
    raw = gzip.decompress((RECORDINGS / "some-marks.sensml.gz").read_bytes())[:120_000]
    return raw[: raw.rindex(b",\n")] + b"\n]\n"


@settings(calls, max_examples=60)
@given(st.lists(st.tuples(st.integers(0, 119_000), st.binary(max_size=4)), min_size=1, max_size=4))
def test_a_real_recording_with_bytes_changed_is_answered_or_refused(
    replay: "Replay", changes: list[tuple[int, bytes]]
) -> None:
    raw = bytearray(real())
    for place, put in changes:
        raw[place : place + len(put)] = put
    assert replay(bytes(raw), None).is_sound()


@calls
@given(st.integers(0, 20_000), st.integers(0, 255))
def test_a_packed_recording_with_a_byte_changed_is_answered_or_refused(
    replay: "Replay", place: int, byte: int
) -> None:
    packed = bytearray(gzip.compress(real(), mtime=0))
    packed[place % len(packed)] = byte
    assert replay(bytes(packed), None).is_sound()


@calls
@given(st.binary(max_size=300))
def test_bytes_that_are_no_recording_are_refused_in_one_line(replay: "Replay", raw: bytes) -> None:
    ended = replay(raw, None)
    assert ended.status == 2
    assert ended.is_sound()
    assert len(ended.said.splitlines()) == 1


@pytest.mark.parametrize("spoiled", ["", "[", "nonsense", "\x1f\u008b\x08cut", '[{"bn":1}]'])
def test_a_refusal_in_a_process_of_its_own_is_one_line_and_no_traceback(
    spoiled: str, tmp_path: Path, job_toml: str
) -> None:
    recording, job, out = (tmp_path / name for name in ("a.sensml", "a.job.toml", "a.json"))
    recording.write_bytes(spoiled.encode("latin-1"))
    job.write_text(job_toml)
    argv = ["replay", str(recording), "--job", str(job), "--json", str(out)]
    ended = subprocess.run(
        [sys.executable, "-m", "drainscale", *argv],
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert (ended.returncode, ended.stdout) == (2, "")
    assert len(ended.stderr.splitlines()) == 1
    assert not out.exists()
