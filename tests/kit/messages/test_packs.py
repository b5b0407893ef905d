import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.messages.packs import PackError, decode_pack, encode_pack
from drainscale.messages.records import Envelope, Samples
from drainscale.messages.topics import BenchId
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
from drainscale.recording.decode import sample_names
from drainscale.recording.encode import sample_line
from drainscale.recording.senml import parse_recording

NORTH = BenchId("north", "bay-3")

counts = st.integers(-(2**23), 2**23 - 1)
reals = st.floats(allow_nan=False, allow_infinity=False)
times = st.integers(0, 10**11).map(lambda micros: round(micros / 1e6, 6))
samples = st.one_of(
    st.builds(ScaleCount, times, counts, st.booleans()),
    st.builds(PanReading, times, reals),
    st.builds(BoardReading, times, reals),
    st.builds(Reference, times, reals),
    st.builds(AddedByHand, times, reals),
    st.builds(PanFault, times, st.sampled_from(PAN_FAULTS)),
    st.builds(StepMark, times, st.sampled_from(STEP_NAMES)),
)
batches = st.lists(samples, max_size=20).map(lambda found: sorted(found, key=lambda one: one.t))

ONE_OF_EACH: list[Sample] = [
    ScaleCount(0.1, 208512),
    ScaleCount(0.1, -5, is_supply=True),
    PanReading(0.25, 21.5),
    BoardReading(0.25, 20.0625),
    PanFault(1.0, "short-to-ground"),
    Reference(2.000001, 38.4),
    AddedByHand(3.0, 0.5),
    StepMark(4.0, "drain-pan"),
]


def envelope_of(batch: list[Sample], job: str | None = "j-104") -> Envelope:
    body = Samples(base_time_s=1790176804.0, is_clock_set=True, samples=tuple(batch))
    return Envelope(site="north", bench="bay-3", boot="b7c1", seq=17, job=job, body=body)


def packed(envelope: Envelope) -> bytes:
    assert isinstance(envelope.body, Samples)
    return encode_pack(envelope, envelope.body, NORTH.base_name)


def altered(**changes: Any) -> bytes:
    """A pack of one scale record, with fields of that record changed (None: left out)."""
    records = json.loads(packed(envelope_of([ScaleCount(1.0, 7)])))
    records[-1] = {key: v for key, v in (records[-1] | changes).items() if v is not None}
    return json.dumps(records).encode()


@given(batches)
def test_pack_reads_back_the_same(batch: list[Sample]) -> None:
    envelope = envelope_of(batch)
    assert decode_pack(packed(envelope), "north", "bay-3") == envelope


def test_pack_without_a_job_reads_back_the_same() -> None:
    envelope = envelope_of(ONE_OF_EACH, job=None)
    assert decode_pack(packed(envelope), "north", "bay-3") == envelope


def test_a_pack_is_a_recording_with_five_names_more() -> None:
    recording = parse_recording(packed(envelope_of(ONE_OF_EACH)), "pack")
    assert list(recording.samples) == ONE_OF_EACH
    assert (recording.name, recording.base_time_s) == (NORTH.base_name, 1790176804.0)
    assert len(recording.warnings) == 1
    assert "5 records of a kind or label unknown here" in recording.warnings[0]


@pytest.mark.parametrize("sample", ONE_OF_EACH, ids=lambda sample: type(sample).__name__)
def test_each_record_is_that_of_a_recording_to_the_letter(sample: Sample) -> None:
    assert sample_line(sample) in packed(envelope_of([sample]))


def test_every_name_of_a_recording_can_be_sent() -> None:
    named = {
        record["n"] for record in json.loads(packed(envelope_of(ONE_OF_EACH))) if "t" in record
    }
    assert named == set(sample_names())


def test_every_record_resolves_as_rfc_8428_wants_it() -> None:
    # RFC 8428, section 4: base name before the name, base time added; one value field each
    first, *rest = json.loads(packed(envelope_of(ONE_OF_EACH)))
    assert set(first) == {"bn", "bt", "bver"}
    assert first["bver"] == 10
    assert all(len({"v", "vs", "vb"} & set(record)) == 1 for record in rest)
    assert all(first["bt"] + record.get("t", 0) >= 2**28 for record in rest)  # absolute, 4.5.3


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"v": 2**23}, "not a 24-bit count"),
        ({"v": 0.5}, "not a 24-bit count"),
        ({"v": 10**400}, "too large"),
        ({"v": "7"}, "Expected"),
        ({"v": None}, "one number 'v'"),
        ({"vs": "x"}, "one number 'v'"),
        ({"u": "g"}, "in 'count'"),
        ({"u": None}, "in 'count'"),
        ({"t": -1.0}, "time goes back"),
        ({"bt": 5.0}, "base fields"),
        ({"bu": "count"}, "base fields"),
    ],
)
def test_wrong_record_is_refused_with_the_reason(changes: dict[str, Any], why: str) -> None:
    with pytest.raises(PackError, match=why):
        decode_pack(altered(**changes), "north", "bay-3")


def test_a_header_said_twice_is_refused() -> None:
    records = json.loads(packed(envelope_of([])))
    records.append({"n": "seq", "v": 18})
    with pytest.raises(PackError, match="twice"):
        decode_pack(json.dumps(records).encode(), "north", "bay-3")


def test_unknown_names_and_labels_are_counted_not_refused() -> None:
    records = json.loads(packed(envelope_of([ScaleCount(1.0, 7)])))
    records += [{"n": "humidity", "t": 2, "v": 3}, {"n": "step", "t": 3, "vs": "polish"}]
    body = decode_pack(json.dumps(records).encode(), "north", "bay-3").body
    assert isinstance(body, Samples)
    assert body.samples == (ScaleCount(1.0, 7),)
    assert body.ignored_n == 2


@pytest.mark.parametrize("missing", ["format", "boot", "seq", "clock-set"])
def test_pack_without_its_number_is_refused(missing: str) -> None:
    records = [r for r in json.loads(packed(envelope_of([]))) if r.get("n") != missing]
    with pytest.raises(PackError, match=missing):
        decode_pack(json.dumps(records).encode(), "north", "bay-3")


def test_pack_of_another_bench_is_refused() -> None:
    with pytest.raises(PackError, match="not that of north/bay-4"):
        decode_pack(packed(envelope_of([])), "north", "bay-4")


@pytest.mark.parametrize(
    ("sample", "why"),
    [
        (ScaleCount(0.1, 2**23), "not a 24-bit count"),
        (ScaleCount(0.1234567, 1), "at most 6 decimals"),
        (ScaleCount(-1.0, 1), "at least 0"),
        (PanReading(0.0, float("nan")), "not a finite"),
        (Reference(float("inf"), 20.0), "not a finite"),
        (StepMark(0.0, "polish"), "none of"),
    ],
)
def test_sample_that_no_recording_can_hold_is_a_bug(sample: Sample, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        packed(envelope_of([sample]))
