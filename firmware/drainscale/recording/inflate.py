"""Plain or gzip, told by content: the bytes of a recording as they were before packing.

A gzip stream that ends too early is what a power cut leaves: what it holds is given, and
the caller is told. A stream that is damaged inside is refused.

Source: RFC 1952 (members may follow each other; zeros may pad the end).
"""

import zlib
from typing import NamedTuple

_GZIP_MAGIC = b"\x1f\x8b"
_GZIP_WINDOW_BITS = 31  # zlib: 15 bits of window, with a gzip header
# a day at 320 samples a second is some 1.3 GB and no service; a packed bomb is more likely
MAX_BYTES = 512 * 1024 * 1024


class DamagedGzipError(ValueError):
    """The gzip stream is broken in a place where it must not be."""


class Inflated(NamedTuple):
    """The unpacked bytes; ``is_cut`` if the gzip stream stopped before its end."""

    data: bytes
    is_cut: bool


def is_gzip(raw: bytes) -> bool:
    """Tell by its first two bytes whether a file is gzip."""
    return raw.startswith(_GZIP_MAGIC)


def inflate(raw: bytes, max_bytes: int = MAX_BYTES) -> Inflated:
    """Unpack a file's bytes, whatever they are packed in.

    Args:
        raw: The whole file.
        max_bytes: More than this is refused.

    Raises:
        DamagedGzipError: A gzip stream with a broken block, a wrong checksum or
            something else behind it; or more than ``max_bytes``.
    """
    if not is_gzip(raw):
        _check_size(len(raw), max_bytes)
        return Inflated(raw, is_cut=False)
    parts: list[bytes] = []
    total = 0
    rest = raw
    while rest:
        if not _GZIP_MAGIC.startswith(rest[:2]):
            raise DamagedGzipError("broken gzip: something else follows the stream")
        part, rest, is_whole = _one_member(rest, max_bytes - total)
        parts.append(part)
        total += len(part)
        if not is_whole:
            return Inflated(b"".join(parts), is_cut=True)
    return Inflated(b"".join(parts), is_cut=False)


def _one_member(raw: bytes, max_bytes: int) -> tuple[bytes, bytes, bool]:
    stream = zlib.decompressobj(wbits=_GZIP_WINDOW_BITS)
    try:
        data = stream.decompress(raw, max_bytes + 1)
    except zlib.error as error:
        raise DamagedGzipError(f"broken gzip: {error}") from error
    _check_size(len(data), max_bytes)
    return data, stream.unused_data.lstrip(b"\0"), stream.eof


def _check_size(size: int, max_bytes: int) -> None:
    if size > max_bytes:
        raise DamagedGzipError("unpacks to more than a recording can hold")
