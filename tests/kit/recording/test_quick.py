"""The quick way either gives what the careful way gives, or gives up."""

from pathlib import Path

import pytest

from drainscale.recording import quick, senml
from drainscale.recording.inflate import inflate
from drainscale.recording.parse import parse
from drainscale.recording.quick import quick_samples

RECORDINGS = Path(__file__).parents[2] / "data/recordings"
BASE = b'{"bver":10,"bn":"urn:dev:ops:bench-7:","bt":1790176804.0}'
COUNT = b'{"n":"scale","u":"count","t":%d.5,"v":%d}'


def lines(n: int = 40) -> list[bytes]:
    return [BASE, *(COUNT % (i, 200_000 + i) for i in range(n))]


def text(between: bytes = b",\n", before: bytes = b"[\n", after: bytes = b"\n]\n") -> bytes:
    return before + between.join(lines()) + after


def carefully(data: bytes) -> object:
    return senml._samples(parse(data).records)


@pytest.fixture
def in_small_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(quick, "PIECE_BYTES", 150)


@pytest.mark.parametrize("name", ["several-jugs", "sensor-faults"])
def test_a_whole_service_reads_the_same(name: str) -> None:
    data = inflate((RECORDINGS / f"{name}.sensml.gz").read_bytes()).data
    assert quick_samples(data) == carefully(data)


@pytest.mark.parametrize(
    "data",
    [
        text(),
        text(b"\n,"),
        text(b", \r\n "),
        text(b",\n\n\n"),
        text(before=b" [", after=b"]"),
        text(b","),
    ],
)
@pytest.mark.usefixtures("in_small_pieces")
def test_it_reads_the_same_however_the_lines_are_cut(data: bytes) -> None:
    found = quick_samples(data)
    assert found is not None
    assert found == carefully(data)


@pytest.mark.parametrize("at", range(1, 40))
@pytest.mark.parametrize("wrong", [b"\n", b",\n,", b",,\n", b",\n,\n"])
@pytest.mark.usefixtures("in_small_pieces")
def test_a_comma_too_few_or_too_many_is_never_overlooked(at: int, wrong: bytes) -> None:
    rows = lines()
    data = b"[\n" + b",\n".join(rows[:at]) + wrong + b",\n".join(rows[at:]) + b"\n]\n"
    assert quick_samples(data) is None


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"[]",
        b"[\n]",
        b"[,]",
        b"{}",
        b"[" + BASE,
        text(after=b",\n]\n"),
        text(before=b"[,\n"),
        text(after=b"\n]\n]"),
        text(after=b"\n\xff]"),
        text().replace(b'"v":200007', b'"v":1e999'),
        text().replace(b'"v":200007', b'"v":"seven"'),
        text().replace(b'"t":7.5', b'"t":3.5'),
        text().replace(b'"n":"scale","u":"count","t":7.5', b'"bt":7.0,"n":"scale"'),
        text().replace(b'"bver":10,', b'"bver":11,'),
        text().replace(b'"bver":10,', b'"bver":10,"bu":"count",'),
    ],
)
@pytest.mark.usefixtures("in_small_pieces")
def test_anything_unusual_is_left_to_the_careful_way(data: bytes) -> None:
    assert quick_samples(data) is None


def test_records_that_are_ignored_are_counted_all_the_same() -> None:
    data = text().replace(b'"n":"scale","u":"count","t":7.5', b'"n":"humidity","t":7.5')
    found = quick_samples(data)
    assert found is not None
    assert found[2] == carefully(data)[2]  # type: ignore[index]  # a tuple


@pytest.mark.parametrize("piece_bytes", range(40, 200, 7))
def test_records_over_several_lines_are_never_read_otherwise(
    piece_bytes: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(quick, "PIECE_BYTES", piece_bytes)
    data = text().replace(b'"u":"count",', b'\n"u":"count",\n')
    assert quick_samples(data) in (None, carefully(data))
