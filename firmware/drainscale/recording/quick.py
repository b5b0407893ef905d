"""The usual recording, read in pieces: what has become samples need not stay in memory.

A recording of 45 minutes at 80 samples a second is a quarter of a million records. Decoded in
one go they take twice the memory of a small board's share. Most files are sound, hold one
record a line or several, and name their base once; those are read here piece by piece.
Anything else makes this module give up, and the careful way says what is wrong.
"""

from collections.abc import Iterator

import msgspec

from drainscale.quantities.samples import Sample
from drainscale.recording.decode import SampleError, decode
from drainscale.recording.records import SENML_VERSION, Record
from drainscale.recording.resolve import Base, has_base_fields

PIECE_BYTES = 64 * 1024
_DECODER = msgspec.json.Decoder(list[Record])
_BLANK = b" \t\r\n"


class _UnusualError(Exception):
    """Not the usual recording."""


def quick_samples(data: bytes) -> tuple[Base, list[Sample], str | None] | None:
    """Read a sound recording of the usual form.

    Returns:
        Its base, its samples and a warning if records were ignored; ``None`` if there is
        anything out of the ordinary.
    """
    try:
        records = _records(data)
        first = next(records, None)
        if first is None or first.bn is None or first.bt is None:
            return None
        if first != Record(bver=SENML_VERSION, bn=first.bn, bt=first.bt):
            return None
        samples, ignored = decode(enumerate(_without_base(records), start=1))
    except (_UnusualError, SampleError, msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return None
    return Base().updated(first), samples, ignored


def _without_base(records: Iterator[Record]) -> Iterator[Record]:
    for record in records:
        if has_base_fields(record):
            raise _UnusualError
        yield record


def _records(data: bytes) -> Iterator[Record]:
    """Decode an array a piece at a time."""
    owes_comma = False
    for piece in _pieces(data):
        has_comma = piece.startswith(b",")
        if has_comma != owes_comma:
            raise _UnusualError
        body = piece[1:] if has_comma else piece
        owes_comma = not body.endswith(b",")
        found = _DECODER.decode(b"[" + (body if owes_comma else body[:-1]) + b"]")
        if not found:
            raise _UnusualError
        yield from found
    if not owes_comma:  # it ends with a comma, or holds nothing
        raise _UnusualError


def _pieces(data: bytes) -> Iterator[bytes]:
    """Cut what stands between the brackets at ends of lines."""
    body = memoryview(data)
    start, end = _inside(data)
    while start < end:
        cut = data.find(b"\n", min(start + PIECE_BYTES, end), end)
        stop = end if cut < 0 else cut
        piece = bytes(body[start:stop]).strip(_BLANK)
        if piece:
            yield piece
        start = stop + 1


def _inside(data: bytes) -> tuple[int, int]:
    """Where the array's inside begins and ends."""
    start, end = 0, len(data)
    while start < end and data[start] in _BLANK:
        start += 1
    while end > start and data[end - 1] in _BLANK:
        end -= 1
    if end - start < 2 or data[start] != ord("[") or data[end - 1] != ord("]"):
        raise _UnusualError
    return start + 1, end - 1
