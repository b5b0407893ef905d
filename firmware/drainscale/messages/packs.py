"""Samples as a SenML pack: what a recording holds, with three names more. Pure.

    [{"bn":"urn:dev:ops:north.bay-3:","bt":1790176804,"bver":10},
     {"n":"format","v":1}, {"n":"boot","vs":"b7c1…"}, {"n":"seq","v":17},
     {"n":"job","vs":"j-104"}, {"n":"clock-set","vb":true},
     {"n":"scale","u":"count","t":0.1,"v":208512}, …]

The sample records are those of a recording, letter for letter; base fields stand in the first
record and nowhere else. ``t`` has at most six decimals and comes back as the same float.

Source: RFC 8428 (2018), sections 4 and 5.
"""

import json
import math
from collections.abc import Callable

import msgspec

from drainscale.messages.records import Envelope, Samples
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

SENML_VERSION = 10  # RFC 8428, section 4.4
TIME_DECIMALS = 6
_COUNT_LIMITS = (-(2**23), 2**23 - 1)  # 24 bits, two's complement
_FAULT_KINDS: dict[str, PanFaultKind] = {kind: kind for kind in PAN_FAULTS}


class PackError(ValueError):
    """What is wrong with a pack, without the topic."""


class _Record(msgspec.Struct, gc=False):
    bn: str | None = None
    bt: float | None = None
    bver: int | None = None
    bu: str | None = None
    bv: float | None = None
    bs: float | None = None
    n: str = ""
    u: str | None = None
    t: float = 0.0
    v: int | float | None = None
    vs: str | None = None
    vb: bool | None = None


_DECODER = msgspec.json.Decoder(list[_Record])


def encode_pack(envelope: Envelope, body: Samples, base_name: str) -> bytes:
    """Write a pack.

    Raises:
        ValueError: A time or value that a recording cannot hold either.
    """
    head = [
        _json(bn=base_name, bt=_plain(body.base_time_s), bver=SENML_VERSION),
        _json(n="format", v=envelope.format),
        _json(n="boot", vs=envelope.boot),
        _json(n="seq", v=envelope.seq),
        *([_json(n="job", vs=envelope.job)] if envelope.job is not None else []),
        _json(n="clock-set", vb=body.is_clock_set),
    ]
    return f"[{','.join([*head, *map(sample_record, body.samples)])}]".encode()


def decode_pack(payload: bytes, site: str, bench: str) -> Envelope:
    """Read a pack.

    Args:
        payload: The message.
        site: Site of the bench that it came from, by its topic.
        bench: Its bench.

    Raises:
        PackError: Not a pack of ours: wrong shape, name, unit, value or order of time.
    """
    try:
        records = _DECODER.decode(payload)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise PackError(str(error)) from error
    base_name, base_time_s = _base(records)
    head = _head(records[1:])
    samples, ignored_n = _samples(records[1:])
    if base_name != f"urn:dev:ops:{site}.{bench}:":
        raise PackError(f"base name {base_name!r} is not that of {site}/{bench}")
    job = head.get("job")
    return Envelope(
        site=site,
        bench=bench,
        boot=_text(head.get("boot"), "boot"),
        seq=_whole(head.get("seq"), "seq"),
        job=None if job is None else _text(job, "job"),
        format=_whole(head.get("format"), "format"),
        body=Samples(
            base_time_s=base_time_s,
            is_clock_set=_truth(head.get("clock-set"), "clock-set"),
            samples=samples,
            ignored_n=ignored_n,
        ),
    )


_HEAD = ("format", "boot", "seq", "job", "clock-set")


def _base(records: list[_Record]) -> tuple[str, float]:
    if not records or records[0].bn is None or records[0].bt is None:
        raise PackError("the first record must have 'bn' and 'bt'")
    if records[0].bver != SENML_VERSION:
        raise PackError(f"bver {records[0].bver}, expected {SENML_VERSION}")
    later = any(r.bn is not None or r.bt is not None or r.bver is not None for r in records[1:])
    if later or any(r.bu is not None or r.bv is not None or r.bs is not None for r in records):
        raise PackError("base fields other than bn, bt and bver of the first record")
    return records[0].bn, records[0].bt


def _head(records: list[_Record]) -> dict[str, _Record]:
    head: dict[str, _Record] = {}
    for record in records:
        if record.n in _HEAD:
            if record.n in head:
                raise PackError(f"{record.n} is said twice")
            head[record.n] = record
    return head


def _samples(records: list[_Record]) -> tuple[tuple[Sample, ...], int]:
    samples: list[Sample] = []
    ignored_n = 0
    last_t = 0.0
    for record in records:
        if record.n in _HEAD:
            continue
        if record.t < last_t:
            raise PackError(f"{record.n}: time goes back from {last_t:g} s to {record.t:g} s")
        last_t = record.t
        make = _MAKERS.get(record.n)
        sample = None if make is None else make(record)
        if sample is None:
            ignored_n += 1
        else:
            samples.append(sample)
    return tuple(samples), ignored_n


def _number(record: _Record, unit: str) -> float:
    if record.v is None or record.vs is not None or record.vb is not None or record.u != unit:
        raise PackError(f"{record.n}: one number 'v' in {unit!r} expected")
    try:
        return float(record.v)
    except OverflowError:
        raise PackError(f"{record.n}: the number is too large") from None


def _count(record: _Record, *, is_supply: bool) -> Sample:
    value = _number(record, "count")
    if not _COUNT_LIMITS[0] <= value <= _COUNT_LIMITS[1] or value != int(value):
        raise PackError(f"{record.n}: {record.v} is not a 24-bit count")
    return ScaleCount(record.t, int(value), is_supply=is_supply)


def _pan_fault(record: _Record) -> Sample | None:
    kind = _FAULT_KINDS.get(_text(record, record.n))
    return None if kind is None else PanFault(record.t, kind)


def _step(record: _Record) -> Sample | None:
    step = _text(record, record.n)
    return StepMark(record.t, step) if step in STEP_NAMES else None


_MAKERS: dict[str, Callable[[_Record], Sample | None]] = {
    "scale": lambda record: _count(record, is_supply=False),
    "supply": lambda record: _count(record, is_supply=True),
    "pan": lambda record: PanReading(record.t, _number(record, "Cel")),
    "board": lambda record: BoardReading(record.t, _number(record, "Cel")),
    "reference": lambda record: Reference(record.t, _number(record, "Cel")),
    "added": lambda record: AddedByHand(record.t, _number(record, "l")),
    "pan-fault": _pan_fault,
    "step": _step,
}


def _text(record: _Record | None, name: str) -> str:
    if record is None or record.vs is None or record.v is not None:
        raise PackError(f"{name}: one text 'vs' expected")
    return record.vs


def _truth(record: _Record | None, name: str) -> bool:
    if record is None or record.vb is None:
        raise PackError(f"{name}: one truth value 'vb' expected")
    return record.vb


def _whole(record: _Record | None, name: str) -> int:
    if record is None or not isinstance(record.v, int):
        raise PackError(f"{name}: one whole number 'v' expected")
    return record.v


def _json(**fields: object) -> str:
    return json.dumps(fields, separators=(",", ":"))


def _plain(value: float) -> int | float:
    return int(value) if _finite(value).is_integer() else value


def _finite(value: float) -> float:
    if not math.isfinite(value):
        raise ValueError(f"{value} is not a finite number")
    return float(value)


def _time(t: float) -> str:
    text = f"{_finite(t):.{TIME_DECIMALS}f}"
    if t < 0 or float(text) != t:
        raise ValueError(f"time {t!r} s: at least 0, at most {TIME_DECIMALS} decimals")
    return text.rstrip("0").rstrip(".")


def sample_record(sample: Sample) -> str:
    """Write one sample as a record.

    Raises:
        ValueError: A time or value that a recording cannot hold either.
    """
    name, unit, value = _parts(sample)
    unit = f'"u":"{unit}",' if unit else ""
    return f'{{"n":"{name}",{unit}"t":{_time(sample.t)},{value}}}'


def _parts(sample: Sample) -> tuple[str, str, str]:
    match sample:
        case ScaleCount(count=count, is_supply=is_supply):
            if not _COUNT_LIMITS[0] <= count <= _COUNT_LIMITS[1]:
                raise ValueError(f"{count} is not a 24-bit count")
            return ("supply" if is_supply else "scale"), "count", f'"v":{count}'
        case PanReading(pan_C=value):
            return "pan", "Cel", f'"v":{_finite(value)!r}'
        case BoardReading(board_C=value):
            return "board", "Cel", f'"v":{_finite(value)!r}'
        case Reference(fluid_C=value):
            return "reference", "Cel", f'"v":{_finite(value)!r}'
        case AddedByHand(volume_20C_L=value):
            return "added", "l", f'"v":{_finite(value)!r}'
        case PanFault(kind=label):
            return "pan-fault", "", f'"vs":"{_label(label, PAN_FAULTS)}"'
        case StepMark(step=label):
            return "step", "", f'"vs":"{_label(label, STEP_NAMES)}"'


def _label(label: str, known: tuple[str, ...]) -> str:
    if label not in known:
        raise ValueError(f"{label!r} is none of {', '.join(known)}")
    return label
