"""The power went: a recording cut anywhere is read as far as it goes, with a warning."""

import gzip

import pytest

from drainscale.errors import RecordingError
from drainscale.quantities.samples import Sample
from drainscale.recording.senml import parse_recording


def samples_of(raw: bytes) -> list[Sample]:
    return list(parse_recording(raw, "rec").samples)


def test_missing_bracket_costs_nothing_but_a_warning(small: bytes) -> None:
    recording = parse_recording(small.rstrip().removesuffix(b"]"), "rec")
    assert list(recording.samples) == samples_of(small)
    assert recording.warnings == ("rec: the closing bracket is missing",)


def test_missing_bracket_after_a_comma_costs_nothing_either(small: bytes) -> None:
    cut = small.rstrip().removesuffix(b"]").rstrip() + b",\n"
    assert samples_of(cut) == samples_of(small)


def test_broken_last_line_is_left_out_with_a_warning(small: bytes) -> None:
    recording = parse_recording(small[: small.rindex(b'"l"')], "rec")
    assert list(recording.samples) == samples_of(small)[:-1]
    assert recording.warnings == ("rec: line 9, the last one, is broken and left out",)


def test_cut_inside_a_character_is_a_broken_last_line(lines: list[str]) -> None:
    raw = ("[" + ",\n".join(lines)).encode() + b',\n{"n":"caf\xc3'
    assert len(samples_of(raw)) == len(lines) - 1


@pytest.mark.parametrize("tail", [bytes(700), b"\n" + bytes(700), b',\n{"n"' + bytes(3)])
def test_zeros_that_a_file_system_leaves_behind_are_left_out(small: bytes, tail: bytes) -> None:
    recording = parse_recording(small.rstrip().removesuffix(b"\n]") + tail, "rec")
    assert len(recording.samples) >= len(samples_of(small)) - 1
    assert recording.warnings


def test_cut_at_every_byte_of_plain_text_gives_all_whole_records(small: bytes) -> None:
    whole = samples_of(small)
    for end in range(len(small)):
        raw = small[:end]
        complete = raw.count(b"}")
        if complete == 0:
            with pytest.raises(RecordingError):
                samples_of(raw)
        else:
            assert samples_of(raw) == whole[: complete - 1], f"cut at byte {end}"


def test_cut_anywhere_before_the_bracket_is_told(small: bytes) -> None:
    for end in range(small.index(b"}") + 1, small.rindex(b"]")):
        assert parse_recording(small[:end], "rec").warnings, f"cut at byte {end}"


def test_gzip_cut_at_every_byte_gives_a_beginning(small: bytes) -> None:
    whole = samples_of(small)
    packed = gzip.compress(small)
    lengths: list[int] = []
    for end in range(2, len(packed)):
        try:
            recording = parse_recording(packed[:end], "rec")
        except RecordingError:
            assert not lengths, f"cut at byte {end}: a shorter cut could be read"
            continue
        samples = list(recording.samples)
        assert samples == whole[: len(samples)]
        assert "gzip stream stops before its end" in recording.warnings[0]
        lengths.append(len(samples))
    assert lengths == sorted(lengths)
    assert lengths[-1] == len(whole)


def test_second_gzip_member_cut_in_its_header_keeps_the_first(small: bytes) -> None:
    raw = gzip.compress(small) + b"\x1f"
    assert samples_of(raw) == samples_of(small)
