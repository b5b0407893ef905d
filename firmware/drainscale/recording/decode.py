"""Records to typed samples: the table of names, their value fields and units. Pure.

The table is the contract of a recording: a name that is not in it is ignored and counted,
a name that is in it must carry the right field and unit.
"""

from collections import Counter
from collections.abc import Callable, Iterable

from drainscale.quantities.samples import (
    PAN_FAULTS,
    STEP_NAMES,
    AddedByHand,
    BoardReading,
    PanFault,
    PanFaultKind,
    PanReading,
    Reference,
    Sample,
    ScaleCount,
    StepMark,
)
from drainscale.recording.locate import quoted
from drainscale.recording.records import Record

COUNT_UNIT = "count"
TEMPERATURE_UNIT = "Cel"
VOLUME_UNIT = "l"  # RFC 8428 would have "m3"; litres are kept on purpose
MAX_COUNT = 2**23 - 1  # a 24-bit converter, two's complement
MIN_COUNT = -(2**23)

_PAN_FAULTS: dict[str, PanFaultKind] = {kind: kind for kind in PAN_FAULTS}
_STEPS = frozenset(STEP_NAMES)
_NAMED_IN_WARNING = 5


class SampleError(ValueError):
    """A record of a known name is wrong; ``index`` is its place in the recording."""

    def __init__(self, index: int, why: str) -> None:
        super().__init__(why)
        self.index = index
        self.why = why


class _WrongError(ValueError):
    """What is wrong with the record at hand."""


class _UnknownLabelError(Exception):
    """A label that a later version may know."""


def decode(records: Iterable[tuple[int, Record]]) -> tuple[list[Sample], str | None]:
    """Make samples of plain records (no base fields in them).

    Args:
        records: Place in the recording and record, in the order of the file.

    Returns:
        The samples, and a warning if some records were ignored.

    Raises:
        SampleError: Wrong unit, value or field; no time; time that decreases.
    """
    samples: list[Sample] = []
    ignored: Counter[str] = Counter()
    last = 0.0
    for index, record in records:
        name, t = record.n, record.t
        if t is not None:
            if t < last:
                raise SampleError(index, _backwards(t, last))
            last = t
        make = _MAKERS.get(name) if name else None
        try:
            if make is not None:
                samples.append(make(record, _time(t)))
            else:
                ignored[_name(name)] += 1
        except _UnknownLabelError:
            ignored[f"{name} {quoted(record.vs)}"] += 1
        except _WrongError as error:
            raise SampleError(index, f"{name}: {error}" if name else str(error)) from None
    return samples, _warning(ignored)


def _backwards(t: float, last: float) -> str:
    if last == 0.0:
        return f"time {t:g} s is before the base time"
    return f"time goes back from {last:.6f} s to {t:.6f} s"


def _warning(ignored: Counter[str]) -> str | None:
    if not ignored:
        return None
    total = ignored.total()
    named = [f"{name} ({count})" for name, count in ignored.most_common(_NAMED_IN_WARNING)]
    if len(ignored) > _NAMED_IN_WARNING:
        named.append("...")
    noun = "record" if total == 1 else "records"
    return f"{total} {noun} of a kind or label unknown here ignored: {', '.join(named)}"


def _name(name: str | None) -> str:
    if not name:
        raise _WrongError("the record has no name 'n'")
    return quoted(name)[1:-1]


def _time(t: float | None) -> float:
    if t is None:
        raise _WrongError("the record has no time 't'")
    return t


def _number(record: Record, unit: str) -> int | float:
    value = record.v
    if value is None or not record.has_only_number():
        raise _WrongError("one number 'v' expected as its only value")
    if record.u != unit and record.u is not None:
        raise _WrongError(f"unit {quoted(record.u)}, expected '{unit}'")
    return value


def _label(record: Record) -> str:
    if record.vs is None or not record.has_only_text():
        raise _WrongError("one text 'vs' expected as its only value")
    if record.u is not None:
        raise _WrongError(f"unit {quoted(record.u)}, expected none")
    return record.vs


def _count(record: Record) -> int:
    value = _number(record, COUNT_UNIT)
    count = int(value)
    if count != value:
        raise _WrongError(f"{value} is not a whole number of counts")
    if not MIN_COUNT <= count <= MAX_COUNT:
        raise _WrongError(f"{quoted(count)} is not a 24-bit count ({MIN_COUNT} to {MAX_COUNT})")
    return count


def _real(record: Record, unit: str) -> float:
    try:
        return float(_number(record, unit))
    except OverflowError:
        raise _WrongError("the number is too large") from None


def _scale(record: Record, t: float) -> Sample:
    return ScaleCount(t, _count(record))


def _supply(record: Record, t: float) -> Sample:
    return ScaleCount(t, _count(record), is_supply=True)


def _pan(record: Record, t: float) -> Sample:
    return PanReading(t, _real(record, TEMPERATURE_UNIT))


def _board(record: Record, t: float) -> Sample:
    return BoardReading(t, _real(record, TEMPERATURE_UNIT))


def _reference(record: Record, t: float) -> Sample:
    return Reference(t, _real(record, TEMPERATURE_UNIT))


def _added(record: Record, t: float) -> Sample:
    return AddedByHand(t, _real(record, VOLUME_UNIT))


def _pan_fault(record: Record, t: float) -> Sample:
    kind = _PAN_FAULTS.get(_label(record))
    if kind is None:
        raise _UnknownLabelError
    return PanFault(t, kind)


def _step(record: Record, t: float) -> Sample:
    step = _label(record)
    if step not in _STEPS:
        raise _UnknownLabelError
    return StepMark(t, step)


_MAKERS: dict[str, Callable[[Record, float], Sample]] = {
    "scale": _scale,
    "supply": _supply,
    "pan": _pan,
    "board": _board,
    "pan-fault": _pan_fault,
    "reference": _reference,
    "added": _added,
    "step": _step,
}


def sample_names() -> tuple[str, ...]:
    """Give the names that a recording's records may have."""
    return tuple(_MAKERS)
