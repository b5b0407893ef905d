"""Read a recording: a SenML stream (RFC 8428) of one service, plain or gzip.

    recording = read_recording(Path("NAME.sensml.gz"))
    for sample in recording.samples: ...

What a power cut leaves is mended, with a warning; anything else that is wrong raises a
RecordingError that names the file and the line.
"""

from collections.abc import Iterable
from pathlib import Path

from drainscale.errors import RecordingError
from drainscale.quantities.samples import Sample
from drainscale.recording.decode import SampleError, decode
from drainscale.recording.inflate import DamagedGzipError, inflate
from drainscale.recording.locate import FaultError, line_of
from drainscale.recording.parse import parse
from drainscale.recording.quick import quick_samples
from drainscale.recording.records import SENML_VERSION, Record, Recording
from drainscale.recording.resolve import (
    Base,
    ResolveError,
    has_base_fields,
    rebased,
    resolve,
)

_CUT_WARNING = "the gzip stream stops before its end"


def read_recording(path: str | Path) -> Recording:
    """Read a whole recording.

    Args:
        path: The file; whether it is gzip is told by its content.

    Raises:
        RecordingError: No such file, or broken other than by a cut at the end.
    """
    try:
        raw = Path(path).read_bytes()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise RecordingError(f"{_one_line(path)}: {reason}") from error
    return parse_recording(raw, str(path))


def parse_recording(raw: bytes, name: str) -> Recording:
    """Read a recording from a file's bytes.

    Args:
        raw: The whole file, plain or gzip.
        name: How messages and warnings call it.

    Raises:
        RecordingError: Broken other than by a cut at the end.
    """
    where = _one_line(name)
    try:
        data, is_cut = inflate(raw)
        mended = None
        usual = quick_samples(data)
        if usual is not None:
            base, samples, ignored = usual
        else:
            records, mended = parse(data)
            base, samples, ignored = _samples(records)
    except DamagedGzipError as error:
        raise RecordingError(f"{where}: {error}") from error
    except FaultError as fault:
        raise RecordingError(_at(where, fault.line, fault.why)) from fault
    except (ResolveError, SampleError) as error:
        raise RecordingError(_at(where, line_of(data, error.index), error.why)) from error
    notes = (_CUT_WARNING if is_cut else None, mended, ignored)
    warnings = tuple(f"{where}: {note}" for note in notes if note)
    return Recording(base.name, base.time_s, samples, warnings)


def _samples(records: list[Record]) -> tuple[Base, list[Sample], str | None]:
    base = _first_base(records)
    plain = _plain(records, base)
    samples, ignored = decode(plain)
    return base, samples, ignored


def _first_base(records: list[Record]) -> Base:
    if not records:
        raise FaultError("holds no records")
    first = records[0]
    if first.bn is None or first.bt is None:
        raise SampleError(0, "the first record must have the base name 'bn' and base time 'bt'")
    base = Base().updated(first)
    if base.version != SENML_VERSION:
        raise SampleError(0, f"bver {base.version}, expected {SENML_VERSION}")
    return base


def _plain(records: list[Record], base: Base) -> Iterable[tuple[int, Record]]:
    """Give the records without their base fields; nearly always only the first has any."""
    is_common = records[0] == Record(bver=SENML_VERSION, bn=base.name, bt=base.time_s)
    if is_common and not any(has_base_fields(record) for record in records[1:]):
        return enumerate(records[1:], start=1)
    return rebased(resolve(records), base)


def _at(where: str, line: int | None, why: str) -> str:
    return f"{where}: {why}" if line is None else f"{where}, line {line}: {why}"


def _one_line(path: str | Path) -> str:
    return "".join(sign if sign.isprintable() else "?" for sign in str(path))
