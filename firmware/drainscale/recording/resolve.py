"""Base fields folded into the records that follow them, as RFC 8428 wants it. Pure.

A pack may say once what many records share: ``bn`` goes before every name, ``bt`` is added
to every time, ``bu`` stands where a unit is missing, ``bv`` and ``bs`` are added to values
and sums. Base fields hold from their record on until the next one of the same kind.

Source: RFC 8428 (2018), sections 4.1 to 4.6.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from drainscale.recording.records import SENML_VERSION, Record


class ResolveError(ValueError):
    """A pack breaks a rule of RFC 8428; ``index`` is the record's place in it."""

    def __init__(self, index: int, why: str) -> None:
        super().__init__(why)
        self.index = index
        self.why = why


@dataclass(frozen=True, slots=True)
class Base:
    """The base fields in force."""

    name: str = ""
    time_s: float = 0.0
    unit: str | None = None
    value: float | None = None
    total: float | None = None
    version: int = SENML_VERSION

    def updated(self, record: Record) -> "Base":
        """Take over what the record says anew."""
        return Base(
            name=self.name if record.bn is None else record.bn,
            time_s=self.time_s if record.bt is None else record.bt,
            unit=self.unit if record.bu is None else record.bu,
            value=self.value if record.bv is None else record.bv,
            total=self.total if record.bs is None else record.bs,
            version=self.version if record.bver is None else record.bver,
        )


@dataclass(frozen=True, slots=True)
class Resolved:
    """One record that needs no other to be understood.

    Attributes:
        index: Place of its record in the pack.
        base: The base fields in force.
        name: With the base name before it.
        after_base_s: Seconds after the base time; kept apart, since a sum of the two
            would lose microseconds.
        record: Unit, value and sum with the base fields in; no base fields.
    """

    index: int
    base: Base
    name: str
    after_base_s: float
    record: Record

    @property
    def time_s(self) -> float:
        """Base time and time in one: seconds since 1970 if it is 2**28 or more."""
        return self.base.time_s + self.after_base_s


def has_base_fields(record: Record) -> bool:
    """Tell whether the record carries any base field."""
    return not (
        record.bn is None
        and record.bt is None
        and record.bu is None
        and record.bv is None
        and record.bs is None
        and record.bver is None
    )


def has_value(record: Record) -> bool:
    """Tell whether the record carries a value or a sum, hence measures something."""
    return not (
        record.v is None
        and record.vs is None
        and record.vb is None
        and record.vd is None
        and record.s is None
    )


def resolve(records: Iterable[Record]) -> Iterator[Resolved]:
    """Fold the base fields into the records; a record of base fields only gives none.

    Raises:
        ResolveError: A version that is newer than we know or changes within the pack, or
            a number that base and record make infinite.
    """
    base = Base()
    for index, record in enumerate(records):
        base = _checked(base.updated(record), base, index)
        is_named = record.n is not None
        if is_named or has_value(record):
            yield _folded(index, record, base)


def _checked(base: Base, before: Base, index: int) -> Base:
    if base.version > SENML_VERSION:
        raise ResolveError(index, f"bver {base.version} is newer than {SENML_VERSION}")
    if index and base.version != before.version:
        raise ResolveError(index, "bver changes within the recording")
    return base


def _folded(index: int, record: Record, base: Base) -> Resolved:
    plain = Record(
        n=record.n,
        u=base.unit if record.u is None else record.u,
        t=0.0 if record.t is None else record.t,
        v=_value(index, record, base),
        vs=record.vs,
        vb=record.vb,
        vd=record.vd,
        s=record.s if base.total is None else _finite(index, base.total, record.s or 0.0),
        ut=record.ut,
    )
    name = base.name + (record.n or "")
    return Resolved(index, base, name, plain.t or 0.0, plain)


def _value(index: int, record: Record, base: Base) -> int | float | None:
    if base.value is None or _is_text_or_truth(record):
        return record.v
    return _finite(index, base.value, record.v or 0)


def _is_text_or_truth(record: Record) -> bool:
    return record.vs is not None or record.vb is not None or record.vd is not None


def _finite(index: int, first: float, second: float) -> float:
    try:
        total = first + second
    except OverflowError:  # an integer beyond what a float can hold
        total = math.inf
    if not math.isfinite(total):
        raise ResolveError(index, "a base field makes a number that is not finite")
    return total


def rebased(resolved: Iterable[Resolved], first: Base) -> Iterator[tuple[int, Record]]:
    """Tell records by the first base: the name without its base name, time after its base time.

    A record of another device keeps its whole name.

    Yields:
        The place of the record in the pack, and the record.
    """
    for item in resolved:
        item.record.n = item.name.removeprefix(first.name)
        item.record.t = _finite(item.index, item.base.time_s - first.time_s, item.after_base_s)
        yield item.index, item.record
