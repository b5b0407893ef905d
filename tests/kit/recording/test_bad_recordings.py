"""Every kind of bad input gives a RecordingError of one line that names file and line."""

import gzip
import json
import zlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.errors import DrainscaleError, RecordingError
from drainscale.recording import inflate as inflate_module
from drainscale.recording.senml import parse_recording, read_recording

BASE = '{"bn":"urn:dev:ops:bench-7:","bt":1790176804,"bver":10}'
GOOD = '{"n":"scale","u":"count","t":9,"v":1}'


def refusal(raw: bytes) -> str:
    with pytest.raises(RecordingError) as caught:
        parse_recording(raw, "rec.sensml")
    message = str(caught.value)
    assert message.startswith("rec.sensml")
    assert "\n" not in message
    assert len(message) < 300
    return message


def with_record(record: str) -> bytes:
    """Put a record into line 3 of an otherwise sound recording."""
    return f"[{BASE},\n{GOOD},\n{record},\n{GOOD}\n]\n".encode()


BAD_RECORDS = {
    "unit": ('{"n":"pan","u":"K","t":9,"v":300}', "unit 'K', expected 'Cel'"),
    "unit of a count": ('{"n":"scale","u":"kg","t":9,"v":3}', "unit 'kg', expected 'count'"),
    "litre with a capital": ('{"n":"added","u":"L","t":9,"v":1}', "unit 'L', expected 'l'"),
    "unit where none is": ('{"n":"step","u":"s","t":9,"vs":"drain"}', "expected none"),
    "text for a number": ('{"n":"pan","u":"Cel","t":9,"vs":"20"}', "one number 'v' expected"),
    "number as text": ('{"n":"pan","u":"Cel","t":9,"v":"20"}', "Expected `int | float | null`"),
    "truth for a number": ('{"n":"pan","u":"Cel","t":9,"vb":true}', "one number 'v' expected"),
    "number for a label": ('{"n":"step","t":9,"v":3}', "one text 'vs' expected"),
    "two values": ('{"n":"pan","u":"Cel","t":9,"v":1,"vs":"x"}', "only value"),
    "no value": ('{"n":"scale","u":"count","t":9}', "one number 'v' expected"),
    "half a count": ('{"n":"scale","u":"count","t":9,"v":0.5}', "not a whole number"),
    "25 bits": ('{"n":"scale","u":"count","t":9,"v":8388608}', "not a 24-bit count"),
    "time goes back": ('{"n":"pan","u":"Cel","t":8.999999,"v":1}', "time goes back"),
    "unknown goes back": ('{"n":"humidity","t":8,"v":1}', "time goes back"),
    "no time": ('{"n":"pan","u":"Cel","v":1}', "no time 't'"),
    "time as text": ('{"n":"pan","u":"Cel","t":"9","v":1}', "Expected `float | null`"),
    "no name": ('{"t":9,"v":1}', "no name 'n'"),
    "name is a number": ('{"n":7,"t":9,"v":1}', "Expected `str | null`"),
    "NaN": ('{"n":"pan","u":"Cel","t":9,"v":NaN}', "NaN is not a finite number"),
    "infinite": ('{"n":"pan","u":"Cel","t":9,"v":-Infinity}', "not a finite number"),
    "overflow": ('{"n":"pan","u":"Cel","t":9,"v":1e999}', "not a finite number"),
    "overflow of time": ('{"n":"pan","u":"Cel","t":1e400,"v":1}', "not a finite number"),
    "huge integer": ('{"n":"pan","u":"Cel","t":9,"v":1' + "0" * 400 + "}", "too large"),
    "digits without end": ('{"n":"pan","u":"Cel","t":9,"v":' + "1" * 5000 + "}", "malformed"),
    "broken record": ('{"n":"pan","u":"Cel","t":9,"v"', "malformed"),
    "empty record": ("", "malformed"),
    "a number": ("17", "malformed"),
    "null": ("null", "malformed"),
    "an array": ("[]", "malformed"),
    "brackets without end": ('{"n":"x","q":' + "[" * 100_000, "malformed"),
    "newer version": ('{"bver":11,"n":"scale","t":9,"v":1}', "bver 11"),
    "older version": ('{"bver":9,"n":"scale","t":9,"v":1}', "bver changes"),
    "infinite by base": ('{"bv":1e308,"n":"pan","t":9,"v":1e308}', "not finite"),
    "huge by base": ('{"bv":1.5,"n":"pan","t":9,"v":1' + "0" * 400 + "}", "not finite"),
    "infinite time by base": ('{"bt":1e308,"n":"pan","t":1.7e308,"v":1}', "not finite"),
}


@pytest.mark.parametrize(("record", "why"), BAD_RECORDS.values(), ids=BAD_RECORDS.keys())
def test_wrong_record_is_refused_with_its_line(record: str, why: str) -> None:
    message = refusal(with_record(record))
    assert why in message
    assert "line 3" in message


def test_line_is_right_in_another_layout() -> None:
    raw = f"\n[\n\n{BASE}\n,\n\n{GOOD}\n,\n\n\n" + '{"n":"pan","u":"K",\n"t":9,"v":1}\n]'
    assert "line 11: pan: unit 'K'" in refusal(raw.encode())


BAD_BASES = {
    "no base fields": ('{"n":"scale","t":0,"v":1}', "must have the base name"),
    "no base time": ('{"bn":"x:","bver":10}', "must have the base name"),
    "no base name": ('{"bt":1,"bver":10}', "must have the base name"),
    "other version": ('{"bn":"x:","bt":1,"bver":5}', "bver 5, expected 10"),
    "base time as text": ('{"bn":"x:","bt":"1"}', "Expected `float | null`"),
}


@pytest.mark.parametrize(("base", "why"), BAD_BASES.values(), ids=BAD_BASES.keys())
def test_wrong_base_record_is_refused_with_line_one(base: str, why: str) -> None:
    message = refusal(f"[{base},\n{GOOD}\n]\n".encode())
    assert why in message
    assert "line 1:" in message


BAD_FILES = {
    "empty": (b"", "empty"),
    "blank": (b" \n\n", "empty"),
    "empty array": (b"[]\n", "holds no records"),
    "only a bracket": (b"[", "no complete record"),
    "not an array": (BASE.encode(), "starts with '['"),
    "text": (b"hello\nworld\n", "starts with '['"),
    "no opening bracket": (f"{BASE},\n{GOOD}\n]\n".encode(), "line 1: malformed"),
    "comma missing": (f"[{BASE}\n{GOOD}\n]\n".encode(), "line 2: malformed: ',' or ']'"),
    "comma too much": (f"[{BASE},\n{GOOD},\n]\n".encode(), "line 3: malformed"),
    "record behind the end": (f"[{BASE},\n{GOOD}\n]\n{GOOD}\n".encode(), "line 4: malformed"),
    "not UTF-8": (f"[{BASE},\n{GOOD},\n".encode() + b'{"n":"\xff"},\n' + GOOD.encode() + b"]",
                  "line 3: malformed: not UTF-8"),
    "NaN in the last line": (f'[{BASE},\n{{"n":"pan","u":"Cel","t":9,"v":NaN}}]'.encode(),
                             "line 2: NaN"),
    "wrong type in an open last line": (f'[{BASE},\n{{"n":"pan","t":9,"v":"a"}}'.encode(),
                                        "line 2: malformed"),
    "before the base time": (f'[{BASE},\n{{"n":"pan","t":-0.5,"v":1}}]'.encode(),
                             "line 2: time -0.5 s is before the base time"),
}  # fmt: skip


@pytest.mark.parametrize(("raw", "why"), BAD_FILES.values(), ids=BAD_FILES.keys())
def test_wrong_file_is_refused(raw: bytes, why: str) -> None:
    assert why in refusal(raw)


def test_fault_before_a_broken_last_line_is_still_refused() -> None:
    raw = f'[{BASE},\n{{"n":"pan",oops}},\n{GOOD},\n{{"n":"sca'.encode()
    assert "line 2: malformed" in refusal(raw)


def test_damaged_gzip_is_refused(small: bytes) -> None:
    packed = bytearray(gzip.compress(small))
    packed[len(packed) // 2] ^= 0xFF
    assert "broken gzip" in refusal(bytes(packed))


def test_gzip_with_a_wrong_checksum_is_refused(small: bytes) -> None:
    packed = bytearray(gzip.compress(small))
    packed[-8] ^= 1
    assert "broken gzip" in refusal(bytes(packed))


def test_gzip_with_something_behind_it_is_refused(small: bytes) -> None:
    assert "something else follows" in refusal(gzip.compress(small) + b"tail")


def test_gzip_bomb_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(inflate_module.DamagedGzipError, match="more than a recording"):
        inflate_module.inflate(gzip.compress(bytes(10_001)), max_bytes=10_000)


def test_missing_file_is_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match=r"nowhere\.sensml: no such file"):
        read_recording(tmp_path / "nowhere.sensml")


def test_folder_is_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match="is a directory"):
        read_recording(tmp_path)


def test_line_break_in_a_file_name_does_not_break_the_message() -> None:
    with pytest.raises(RecordingError) as caught:
        parse_recording(b"", "a\nb")
    assert str(caught.value) == "a?b: empty"


def only_refuses(raw: bytes) -> None:
    try:
        parse_recording(raw, "rec")
    except RecordingError as error:
        message = str(error)
    else:
        return
    assert "\n" not in message


@given(st.binary(max_size=200))
def test_no_bytes_raise_anything_but_a_recording_error(raw: bytes) -> None:
    only_refuses(raw)
    only_refuses(b"\x1f\x8b" + raw)
    only_refuses(gzip.compress(raw))


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner),
    max_leaves=5,
)
fields = st.dictionaries(
    st.sampled_from(["bn", "bt", "bu", "bv", "bs", "bver", "n", "u", "t", "v", "vs", "vb", "s"]),
    json_values
    | st.sampled_from(["scale", "pan", "step", "drain", "Cel", "count", 10, 0, 1, 2.5, 10**400]),
)


@given(st.lists(fields | json_values, max_size=6), st.booleans())
def test_no_json_raises_anything_but_a_recording_error(
    records: list[object], has_base: bool
) -> None:
    head = [json.loads(BASE)] if has_base else []
    only_refuses(json.dumps(head + records).encode())


@given(st.data())
def test_one_wrong_byte_raises_nothing_but_a_recording_error(data: st.DataObject) -> None:
    raw = bytearray(with_record('{"n":"step","t":9,"vs":"drain"}'))
    place = data.draw(st.integers(0, len(raw) - 1))
    raw[place] = data.draw(st.integers(0, 255))
    only_refuses(bytes(raw))
    packed = bytearray(gzip.compress(with_record(GOOD)))
    packed[place % len(packed)] ^= raw[place] or 1
    only_refuses(bytes(packed))


def test_errors_can_be_caught_both_ways() -> None:
    for kind in (DrainscaleError, ValueError):
        with pytest.raises(kind):
            parse_recording(zlib.compress(b"x"), "rec")
