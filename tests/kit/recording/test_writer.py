"""Writing a recording: what is read back is what was written, even after a kill."""

import gzip
import json
import math
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.errors import RecordingError
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
from drainscale.recording.encode import base_line, recordable_time, sample_line
from drainscale.recording.records import Recording
from drainscale.recording.senml import parse_recording, read_recording
from drainscale.recording.writer import create_recording, resume_recording, write_recording

NAME = "urn:dev:ops:bench-7:"

times = st.floats(0, 1e6).map(recordable_time)
numbers = st.floats(allow_nan=False, allow_infinity=False)
samples = st.one_of(
    st.builds(ScaleCount, times, st.integers(-(2**23), 2**23 - 1), st.booleans()),
    st.builds(PanReading, times, numbers),
    st.builds(BoardReading, times, numbers),
    st.builds(Reference, times, numbers),
    st.builds(AddedByHand, times, numbers),
    st.builds(PanFault, times, st.sampled_from(PAN_FAULTS)),
    st.builds(StepMark, times, st.sampled_from(STEP_NAMES)),
)
recordings = st.builds(
    Recording,
    st.text(max_size=20),
    numbers,
    st.lists(samples, max_size=20).map(lambda found: sorted(found, key=lambda sample: sample.t)),
)


def text_of(recording: Recording) -> bytes:
    lines = [base_line(recording.name, recording.base_time_s)]
    lines += [sample_line(sample) for sample in recording.samples]
    return b"[" + b",\n".join(lines) + b"\n]\n"


@given(recordings)
def test_what_is_written_reads_back_identical(recording: Recording) -> None:
    assert parse_recording(text_of(recording), "rec") == recording


@given(recordings)
def test_what_is_written_is_one_json_record_a_line(recording: Recording) -> None:
    lines = text_of(recording).splitlines()
    assert len(lines) == len(recording.samples) + 2
    assert len(json.loads(text_of(recording))) == len(recording.samples) + 1


@pytest.mark.parametrize("is_packed", [False, True])
def test_file_reads_back_and_writes_again_the_same(
    tmp_path: Path, small: bytes, is_packed: bool
) -> None:
    first, second = tmp_path / "first", tmp_path / "second"
    recording = parse_recording(small, "rec")
    write_recording(first, recording, is_packed=is_packed)
    write_recording(second, read_recording(first), is_packed=is_packed)
    assert read_recording(second) == recording
    assert first.read_bytes().startswith(b"\x1f\x8b" if is_packed else b"[{")


def test_file_of_our_own_form_is_written_byte_for_byte(tmp_path: Path, lines: list[str]) -> None:
    lines[2] = lines[2].replace("18.50", "18.5")
    lines[7] = lines[7].replace('"v":21', '"v":21.0')
    text = ("[" + ",\n".join(lines) + "\n]\n").encode()
    write_recording(tmp_path / "rec", parse_recording(text, "rec"))
    assert (tmp_path / "rec").read_bytes() == text


UNWRITABLE: dict[str, tuple[Sample, str]] = {
    "time not a number": (PanReading(math.nan, 20.0), "not a finite"),
    "time without end": (PanReading(math.inf, 20.0), "not a finite"),
    "time before the base": (PanReading(-0.5, 20.0), "at least 0"),
    "time finer than a microsecond": (PanReading(0.1234567, 20.0), "6 decimals"),
    "value not a number": (PanReading(1.0, math.nan), "not a finite"),
    "value without end": (BoardReading(1.0, -math.inf), "not a finite"),
    "count beyond 24 bits": (ScaleCount(1.0, 2**23), "24-bit"),
    "unknown step": (StepMark(1.0, "wash"), "none of prepare"),
    "unknown fault": (PanFault(1.0, "melted"), "none of open"),  # type: ignore[arg-type]
}


@pytest.mark.parametrize(("sample", "why"), UNWRITABLE.values(), ids=UNWRITABLE.keys())
def test_what_could_not_be_read_back_is_not_written(
    tmp_path: Path, sample: Sample, why: str
) -> None:
    with (
        create_recording(tmp_path / "rec", NAME, 0.0) as writer,
        pytest.raises(ValueError, match=why),
    ):
        writer.write(sample)
    assert read_recording(tmp_path / "rec").samples == []


def test_time_may_stand_still_but_not_go_back(tmp_path: Path) -> None:
    with create_recording(tmp_path / "rec", NAME, 0.0) as writer:
        writer.write(ScaleCount(2.0, 1))
        writer.write(ScaleCount(2.0, 2))
        with pytest.raises(ValueError, match="comes after"):
            writer.write(ScaleCount(1.5, 3))
    assert len(read_recording(tmp_path / "rec").samples) == 2


def test_recording_is_never_written_over(tmp_path: Path) -> None:
    create_recording(tmp_path / "rec", NAME, 0.0).close()
    with pytest.raises(FileExistsError):
        create_recording(tmp_path / "rec", NAME, 0.0)


def test_base_time_that_is_not_finite_leaves_no_file(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="finite"):
        create_recording(tmp_path / "rec", NAME, math.inf)
    assert not (tmp_path / "rec").exists()


KILLED = """
import os, signal, sys
from drainscale.quantities.samples import ScaleCount
from drainscale.recording.writer import create_recording
writer = create_recording(sys.argv[1], "urn:dev:ops:bench-7:", 0.0, is_packed=sys.argv[2] == "gz")
for tick in range(1000):
    writer.write(ScaleCount(tick / 10, tick))
writer.flush()
for tick in range(1000, 1007):
    writer.write(ScaleCount(tick / 10, tick))
os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.mark.parametrize("packing", ["plain", "gz"])
def test_kill_loses_nothing_that_was_flushed(tmp_path: Path, packing: str) -> None:
    path = tmp_path / "rec"
    killed = subprocess.run([sys.executable, "-c", KILLED, str(path), packing], check=False)
    assert killed.returncode == -signal.SIGKILL
    recording = read_recording(path)
    counts = [getattr(sample, "count", None) for sample in recording.samples]
    assert counts[:1000] == list(range(1000))
    assert recording.warnings


def test_cut_at_every_byte_can_be_continued(tmp_path: Path, small: bytes) -> None:
    path = tmp_path / "rec"
    for end in range(small.index(b"}") + 1, len(small) + 1):
        path.write_bytes(small[:end])
        before = list(read_recording(path).samples)
        with resume_recording(path) as writer:
            writer.write(ScaleCount(7.5, 7))
        after = read_recording(path)
        assert list(after.samples) == [*before, ScaleCount(7.5, 7)], f"cut at byte {end}"
        assert not after.warnings


def test_continued_recording_does_not_go_back_in_time(tmp_path: Path, small: bytes) -> None:
    path = tmp_path / "rec"
    path.write_bytes(small)
    with resume_recording(path) as writer, pytest.raises(ValueError, match="comes after"):
        writer.write(ScaleCount(2.0, 7))
    assert path.read_bytes() == small


def test_broken_recording_is_not_continued(tmp_path: Path, small: bytes) -> None:
    path = tmp_path / "rec"
    broken = small.replace(b'"t":0.5', b'"t":0.05')
    path.write_bytes(broken)
    with pytest.raises(RecordingError, match="goes back"):
        resume_recording(path)
    assert path.read_bytes() == broken


def test_gzip_recording_is_not_continued(tmp_path: Path, small: bytes) -> None:
    path = tmp_path / "rec"
    path.write_bytes(gzip.compress(small))
    with pytest.raises(RecordingError, match="cannot be continued"):
        resume_recording(path)


def test_flushed_recording_is_on_the_disk_while_it_is_open(tmp_path: Path) -> None:
    path = tmp_path / "rec"
    with create_recording(path, NAME, 0.0) as writer:
        writer.write(ScaleCount(1.0, 5))
        writer.flush()
        assert read_recording(path).samples == [ScaleCount(1.0, 5)]
