"""Reading a sound recording: every kind of record, in every layout that is allowed."""

import gzip
from pathlib import Path

import pytest

from drainscale.quantities.samples import (
    AddedByHand,
    BoardReading,
    PanFault,
    PanReading,
    Reference,
    Sample,
    ScaleCount,
    StepMark,
)
from drainscale.recording.records import Recording
from drainscale.recording.senml import parse_recording, read_recording

SAMPLES: list[Sample] = [
    ScaleCount(0.017, 208512),
    PanReading(0.1, 18.5),
    BoardReading(0.1, 18.0625),
    StepMark(0.5, "drain"),
    PanFault(0.6, "open"),
    ScaleCount(0.75, -42, is_supply=True),
    Reference(1.0, 21.0),
    AddedByHand(2.25, 0.35),
]


def array(*records: str) -> bytes:
    return ("[" + ",\n".join(records) + "\n]\n").encode()


def read(raw: bytes) -> Recording:
    return parse_recording(raw, "rec")


def test_every_kind_of_record_becomes_its_sample(small: bytes) -> None:
    recording = read(small)
    assert recording == Recording("urn:dev:ops:bench-7:", 1790176804.0, SAMPLES, ())


def test_numbers_have_the_type_that_the_core_expects(small: bytes) -> None:
    values = [getattr(sample, "count", None) for sample in read(small).samples]
    assert type(values[0]) is int
    reference = read(small).samples[6]
    assert isinstance(reference, Reference)
    assert type(reference.fluid_C) is float
    assert type(reference.t) is float


@pytest.mark.parametrize("name", ["rec.sensml", "rec.sensml.gz"])
def test_gzip_is_told_by_content_not_by_name(tmp_path: Path, small: bytes, name: str) -> None:
    plain, packed = tmp_path / f"plain-{name}", tmp_path / f"packed-{name}"
    plain.write_bytes(small)
    packed.write_bytes(gzip.compress(small))
    assert read_recording(plain) == read_recording(packed)
    assert list(read_recording(packed).samples) == SAMPLES


def test_gzip_in_several_members_is_one_recording(small: bytes) -> None:
    raw = gzip.compress(small[:99]) + gzip.compress(small[99:]) + bytes(512)
    assert read(raw) == read(small)


@pytest.mark.parametrize(
    "layout",
    [
        lambda lines: "[" + ",".join(lines) + "]",
        lambda lines: "[\r\n" + "\r\n,\r\n".join(lines) + "\r\n]\r\n",
        lambda lines: "\n [ " + " ,\t\n".join(lines).replace(",", " ,\r\n ") + "]",
    ],
    ids=["one line", "comma first", "spread out"],
)  # fmt: skip
def test_any_layout_of_the_array_will_do(lines: list[str], layout: object) -> None:
    text = layout(lines)  # type: ignore[operator]
    assert list(read(text.encode()).samples) == SAMPLES


def test_unit_may_be_left_out(lines: list[str]) -> None:
    bare = [line.replace('"u":"Cel",', "").replace('"u":"count",', "") for line in lines]
    assert list(read(array(*bare)).samples) == SAMPLES


def test_whole_number_written_as_a_float_is_a_count(lines: list[str]) -> None:
    record = '{"n":"scale","u":"count","t":3,"v":208512.0}'
    sample = read(array(lines[0], record)).samples[0]
    assert sample == ScaleCount(3.0, 208512)
    assert isinstance(sample, ScaleCount)
    assert type(sample.count) is int


def test_both_ends_of_the_converters_range_are_read(lines: list[str]) -> None:
    records = ['{"n":"scale","t":1,"v":-8388608}', '{"n":"scale","t":1,"v":8388607}']
    assert read(array(lines[0], *records)).samples == [
        ScaleCount(1.0, -8388608),
        ScaleCount(1.0, 8388607),
    ]


def test_base_record_alone_is_a_recording_of_nothing(lines: list[str]) -> None:
    assert read(array(lines[0])).samples == []


def test_unknown_names_and_labels_are_ignored_and_counted(lines: list[str]) -> None:
    extra = [
        '{"n":"humidity","u":"%RH","t":3,"v":41}',
        '{"n":"humidity","u":"%RH","t":4,"v":41}',
        '{"n":"lamp","t":4,"vb":true}',
        '{"n":"step","t":5,"vs":"wash"}',
        '{"n":"pan-fault","t":5,"vs":"melted"}',
    ]
    recording = read(array(*lines, *extra))
    assert list(recording.samples) == SAMPLES
    (warning,) = recording.warnings
    assert warning == (
        "rec: 5 records of a kind or label unknown here ignored: "
        "humidity (2), lamp (1), step 'wash' (1), pan-fault 'melted' (1)"
    )


def test_warning_of_many_unknown_names_stays_short(lines: list[str]) -> None:
    extra = [f'{{"n":"x{number}","t":3,"v":1}}' for number in range(900)]
    (warning,) = read(array(*lines, *extra)).warnings
    assert "900 records" in warning
    assert len(warning) < 150


def test_control_characters_of_a_foreign_name_stay_out_of_the_warning(lines: list[str]) -> None:
    (warning,) = read(array(*lines, '{"n":"a\\u001b[2J\\nb","t":3,"v":1}')).warnings
    assert warning.isprintable()


def test_unknown_fields_of_a_record_are_ignored(lines: list[str]) -> None:
    record = '{"n":"pan","u":"Cel","t":3,"v":20.25,"operator":{"shift":[1,2]}}'
    assert read(array(lines[0], record)).samples == [PanReading(3.0, 20.25)]


def test_base_fields_may_come_later_and_shift_time_and_value(lines: list[str]) -> None:
    records = [
        '{"n":"pan","t":1,"v":20,"bu":"Cel"}',
        '{"bt":1790176814,"n":"pan","t":1.5,"v":21}',
        '{"bv":10,"n":"pan","t":2,"v":1.25}',
    ]
    assert read(array(lines[0], *records)).samples == [
        PanReading(1.0, 20.0),
        PanReading(11.5, 21.0),
        PanReading(12.0, 11.25),
    ]


def test_records_of_another_device_are_ignored_and_counted(lines: list[str]) -> None:
    recording = read(array(*lines, '{"bn":"urn:dev:ops:bench-8:","n":"scale","t":3,"v":1}'))
    assert list(recording.samples) == SAMPLES
    assert "urn:dev:ops:bench-8:scale (1)" in recording.warnings[0]


def test_version_may_be_left_to_its_default(lines: list[str]) -> None:
    lines[0] = lines[0].replace(',"bver":10', "")
    assert list(read(array(*lines)).samples) == SAMPLES
