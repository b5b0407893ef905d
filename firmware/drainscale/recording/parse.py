"""JSON to records, and the one kind of damage that is mended: the power went.

A writer that is cut off leaves a file without its closing bracket, or with a last line
that stops in the middle. Both are mended and told. Anything wrong before the last line is
not such a cut: it is refused.
"""

from typing import NamedTuple

import msgspec

from drainscale.recording.locate import FaultError, find_fault, is_whole_line
from drainscale.recording.records import Record

_DECODER = msgspec.json.Decoder(list[Record])
_BLANK = b" \t\r\n"


class Parsed(NamedTuple):
    """The records, and how the end was mended (None: nothing was wrong)."""

    records: list[Record]
    mended: str | None


def parse(data: bytes) -> Parsed:
    """Decode a recording's text.

    Raises:
        FaultError: Malformed, other than by a cut at the end.
    """
    records = _decode(data)
    if records is not None:
        return Parsed(records, None)
    body = data.rstrip(_BLANK)
    if not body:
        raise FaultError("empty")
    records = _decode(_closed(body))
    if records:
        return Parsed(records, "the closing bracket is missing")
    head, _, tail = body.rpartition(b"\n")
    if is_whole_line(tail):  # so the fault is in it or before it, and not a cut
        raise find_fault(data)
    return _without_tail(head.rstrip(_BLANK), 1 + body.count(b"\n"))


def reopened(data: bytes) -> bytes:
    """Give a recording's text up to its last complete record, so that more can follow.

    Raises:
        FaultError: As ``parse``.
    """
    mended = parse(data).mended
    body = data.rstrip(_BLANK)
    if mended and _decode(_closed(body)) is None:
        body = body.rpartition(b"\n")[0].rstrip(_BLANK)
    return body.removesuffix(b"]").rstrip(_BLANK).removesuffix(b",")


def _without_tail(head: bytes, tail_line: int) -> Parsed:
    if not head.strip(_BLANK + b"["):
        raise FaultError("holds no complete record", tail_line)
    records = _decode(head)
    if records is None:
        records = _decode(_closed(head))
    if records is None:
        raise find_fault(_closed(head))
    return Parsed(records, f"line {tail_line}, the last one, is broken and left out")


def _closed(body: bytes) -> bytes:
    return body.removesuffix(b",") + b"\n]"


def _decode(data: bytes) -> list[Record] | None:
    try:
        return _DECODER.decode(data)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return None
