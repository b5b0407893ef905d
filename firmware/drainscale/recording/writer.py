"""Write a recording, record by record.

The comma stands before a record, not behind the one before it: so a writer that is killed
leaves a file that lacks its closing bracket or a part of its last line, and nothing else.
Both are what the reader mends.
"""

import gzip
import os
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Literal, Self, cast

from drainscale.errors import RecordingError
from drainscale.quantities.samples import Sample
from drainscale.recording.encode import base_line, sample_line
from drainscale.recording.inflate import is_gzip
from drainscale.recording.parse import reopened
from drainscale.recording.records import Recording
from drainscale.recording.senml import parse_recording

_END = b"\n]\n"


class RecordingWriter:
    """Writes samples to a recording that is open; closes its array on ``close``.

    Make one with ``create_recording`` or ``resume_recording``.

        with create_recording(path, "urn:dev:ops:bench-7:", 1790176804.0) as writer:
            writer.write(ScaleCount(0.1, 208512))
            writer.flush()  # what was written so far outlives a kill and a power cut
    """

    def __init__(self, stream: BinaryIO, last_t: float = 0.0) -> None:
        self._stream = stream
        self._last_t = last_t

    def write(self, sample: Sample) -> None:
        """Write one sample.

        Raises:
            ValueError: Its time is before that of the sample before it, or it holds
                what a recording cannot (see ``encode``). Nothing is written then.
        """
        line = sample_line(sample)
        if sample.t < self._last_t:
            raise ValueError(f"time {sample.t} s comes after {self._last_t} s")
        self._stream.write(b",\n" + line)
        self._last_t = sample.t

    def flush(self) -> None:
        """Bring what was written to the disk: it outlives a kill and a power cut."""
        self._stream.flush()
        os.fsync(self._stream.fileno())

    def close(self) -> None:
        """Close the array and the file; harmless if closed already."""
        if not self._stream.closed:
            self._stream.write(_END)
            self._stream.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def create_recording(
    path: str | Path, name: str, base_time_s: float, *, is_packed: bool = False
) -> RecordingWriter:
    """Start a new recording.

    Args:
        path: A file that does not exist yet.
        name: Base name of the bench, such as ``urn:dev:ops:bench-34:``.
        base_time_s: Instant of ``t = 0``, seconds since 1970-01-01 UTC.
        is_packed: Write gzip.

    Raises:
        FileExistsError: A recording is never written over.
        OSError: The file cannot be made.
    """
    first = b"[" + base_line(name, base_time_s)
    stream = _open_packed(path) if is_packed else _open(path, "xb")
    stream.write(first)
    return RecordingWriter(stream)


def resume_recording(path: str | Path) -> RecordingWriter:
    """Go on with a recording, closed or cut; a broken last line is removed from it.

    Raises:
        RecordingError: Broken other than by a cut at the end; or gzip, which a cut leaves
            in a state that cannot be written on.
        OSError: The file cannot be opened for writing.
    """
    raw = Path(path).read_bytes()
    if is_gzip(raw):
        raise RecordingError(f"{path}: a gzip recording cannot be continued")
    recording = parse_recording(raw, str(path))
    kept = reopened(raw)
    stream = _open(path, "r+b")
    stream.truncate(len(kept))
    stream.seek(len(kept))
    return RecordingWriter(stream, max((s.t for s in recording.samples), default=0.0))


def _open(path: str | Path, mode: Literal["xb", "r+b"]) -> BinaryIO:
    return Path(path).open(mode)


def _open_packed(path: str | Path) -> BinaryIO:
    # a GzipFile has all that BinaryIO promises, but typeshed does not say so
    return cast(BinaryIO, gzip.open(path, "xb"))


def write_recording(path: str | Path, recording: Recording, *, is_packed: bool = False) -> None:
    """Write a whole recording; it reads back identical, but for its warnings.

    Raises:
        FileExistsError: A recording is never written over.
        ValueError: It holds what a recording cannot.
    """
    name, base_time_s = recording.name, recording.base_time_s
    with create_recording(path, name, base_time_s, is_packed=is_packed) as writer:
        for sample in recording.samples:
            writer.write(sample)
