"""Samples to the lines of a recording: the inverse of ``decode``. Pure.

What the reader would not give back the same is refused here, as a bug of the caller: a
recording that is written reads back identical.
"""

import json
import math

from drainscale.quantities.samples import (
    PAN_FAULTS,
    STEP_NAMES,
    AddedByHand,
    BoardReading,
    PanFault,
    PanReading,
    Reference,
    Sample,
    ScaleCount,
    StepMark,
)
from drainscale.recording.decode import (
    COUNT_UNIT,
    MAX_COUNT,
    MIN_COUNT,
    TEMPERATURE_UNIT,
    VOLUME_UNIT,
)
from drainscale.recording.records import SENML_VERSION, TIME_DECIMALS


def base_line(name: str, base_time_s: float) -> bytes:
    """Write the first record: base fields only.

    Args:
        name: Base name, such as ``urn:dev:ops:bench-34:``.
        base_time_s: Seconds since 1970-01-01 UTC.

    Raises:
        ValueError: A base time that is not finite.
    """
    time = int(base_time_s) if _finite(base_time_s).is_integer() else base_time_s
    fields = {"bn": name, "bt": time, "bver": SENML_VERSION}
    return json.dumps(fields, separators=(",", ":")).encode()


def recordable_time(t: float) -> float:
    """Round a time to what a recording can hold, so that live and replay see the same."""
    return round(t, TIME_DECIMALS)


def sample_line(sample: Sample) -> bytes:
    """Write one sample as a record, without comma or newline.

    Args:
        sample: Its ``t`` in seconds after the base time, at most six decimals.

    Raises:
        ValueError: A time, number or label that a recording cannot hold.
    """
    name, value = _name_and_value(sample)
    return f'{{"n":"{name}",{_unit(name)}"t":{_time(sample.t)},{value}}}'.encode()


def _name_and_value(sample: Sample) -> tuple[str, str]:
    match sample:
        case ScaleCount(count=count, is_supply=is_supply):
            return ("supply" if is_supply else "scale"), f'"v":{_count(count)}'
        case PanReading(pan_C=value):
            return "pan", _number(value)
        case BoardReading(board_C=value):
            return "board", _number(value)
        case Reference(fluid_C=value):
            return "reference", _number(value)
        case AddedByHand(volume_20C_L=value):
            return "added", _number(value)
        case PanFault(kind=label):
            return "pan-fault", _label(label, PAN_FAULTS)
        case StepMark(step=label):
            return "step", _label(label, STEP_NAMES)


_UNITS = {
    "scale": COUNT_UNIT,
    "supply": COUNT_UNIT,
    "pan": TEMPERATURE_UNIT,
    "board": TEMPERATURE_UNIT,
    "reference": TEMPERATURE_UNIT,
    "added": VOLUME_UNIT,
}


def _unit(name: str) -> str:
    unit = _UNITS.get(name)
    return f'"u":"{unit}",' if unit else ""


def _finite(number: float) -> float:
    if not math.isfinite(number):
        raise ValueError(f"{number} is not a finite number")
    return float(number)


def _time(t: float) -> str:
    text = f"{_finite(t):.{TIME_DECIMALS}f}"
    if t < 0 or float(text) != t:
        raise ValueError(f"time {t!r} s: at least 0, at most {TIME_DECIMALS} decimals")
    return text.rstrip("0").rstrip(".")


def _number(value: float) -> str:
    return f'"v":{_finite(value)!r}'


def _count(count: int) -> int:
    if not MIN_COUNT <= count <= MAX_COUNT:
        raise ValueError(f"{count} is not a 24-bit count")
    return count


def _label(label: str, known: tuple[str, ...]) -> str:
    if label not in known:
        raise ValueError(f"{label!r} is none of {', '.join(known)}")
    return f'"vs":"{label}"'
