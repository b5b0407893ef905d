"""What a job file may hold: every key with its bound, its words for a message, its default. Pure.

These tables are the contract of the job file; ``job_file.py`` holds a document against
them. What binds keys together stands in the pairs of a section.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

JOB_FORMAT: Final = 1

REQUIRED: Final = object()  # the default of a key that has none
Table = Mapping[str, Any]  # as it stands in the file


@dataclass(frozen=True, slots=True)
class Rule:
    """One key: what is allowed, in words and as a test, and what holds if it is absent."""

    allowed: str
    accepts: Callable[[object], bool]
    default: object = REQUIRED


@dataclass(frozen=True, slots=True)
class Pair:
    """A bound between keys of one section; asked only once each key alone is right."""

    blamed_key: str
    allowed: str
    accepts: Callable[[Table], bool]


@dataclass(frozen=True, slots=True)
class Section:
    """One table of the file."""

    rules: Mapping[str, Rule]
    pairs: tuple[Pair, ...] = ()
    is_required: bool = True


def is_number(value: object) -> bool:
    """Tell whether it is a finite number; true and false are none."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    try:
        return math.isfinite(value)
    except OverflowError:  # an integer beyond what a float can hold
        return False


def _between(low: float, high: float, default: object = REQUIRED) -> Rule:
    def accepts(value: Any) -> bool:
        return is_number(value) and low <= value <= high

    return Rule(f"a number from {low:g} to {high:g}", accepts, default)


def _above_zero(high: float = math.inf) -> Rule:
    def accepts(value: Any) -> bool:
        return is_number(value) and 0 < value <= high

    return Rule("a number above 0" + (f", to {high:g}" if high < math.inf else ""), accepts)


def _not_negative(default: object = REQUIRED) -> Rule:
    def accepts(value: Any) -> bool:
        return is_number(value) and value >= 0

    return Rule("a number, 0 or more", accepts, default)


def _word(*words: str, default: object = REQUIRED) -> Rule:
    allowed = " or ".join(f"'{word}'" for word in words)
    return Rule(allowed, lambda value: isinstance(value, str) and value in words, default)


def _is_number_list(value: object, shortest: int) -> bool:
    return isinstance(value, list) and len(value) >= shortest and all(map(is_number, value))


def _is_rising(values: list[float]) -> bool:
    # as floats: two integers may differ by less than a float can tell
    return all(before < after for before, after in pairwise(map(float, values)))


def _is_monotonic(values: list[float]) -> bool:
    return _is_rising(values) or _is_rising(values[::-1])


def _window(low: float, high: float) -> Rule:
    def accepts(value: Any) -> bool:
        if not _is_number_list(value, 2) or len(value) != 2:
            return False
        return bool(low <= value[0] < value[1] <= high)

    return Rule(f"two numbers, rising, {low:g} to {high:g}", accepts)


def _number_list(order: str, in_order: Callable[[list[float]], bool]) -> Rule:
    def accepts(value: Any) -> bool:
        return _is_number_list(value, 2) and in_order(value)

    return Rule(f"a list of 2 or more numbers, {order}", accepts)


_MAX_FLOW_ML_PER_MIN = 2000

_PROCEDURE = Section(
    rules={
        "level_method": _word("standpipe", "check-plug"),
        "fill_via": _word("fill-plug", "check-plug", default="fill-plug"),
        "window_C": _window(0, 130),
        "allowance_L": _between(0, 5),
        "close_flow_mL_per_min": _above_zero(_MAX_FLOW_ML_PER_MIN),
        "drip_flow_mL_per_min": _above_zero(_MAX_FLOW_ML_PER_MIN),
        "approach_K": _between(0, 30, default=3.0),
    },
    pairs=(
        Pair(
            "drip_flow_mL_per_min",
            "a number below close_flow_mL_per_min",
            lambda table: table["drip_flow_mL_per_min"] < table["close_flow_mL_per_min"],
        ),
    ),
)

_VISCOSITIES = ("viscosity_40C_mm2_per_s", "viscosity_100C_mm2_per_s")


def _both_or_neither(table: Table) -> bool:
    return len({table[key] is None for key in _VISCOSITIES}) == 1


def _falling_if_known(table: Table) -> bool:
    at_40C, at_100C = (table[key] for key in _VISCOSITIES)
    return at_40C is None or at_40C > at_100C


_FLUID = Section(
    rules={
        "density_kg_per_m3": _between(600, 1200),
        "density_C": _between(-20, 110),
        "density_u_kg_per_m3": _between(0, 50),
        **{key: _between(1, 1000, default=None) for key in _VISCOSITIES},
    },
    pairs=(
        Pair(_VISCOSITIES[1], "given together with the other viscosity", _both_or_neither),
        Pair(_VISCOSITIES[1], "a number below viscosity_40C_mm2_per_s", _falling_if_known),
    ),
)

_SCALE_RULES = {
    "capacity_kg": _above_zero(500),
    "rate_Hz": _between(1, 320),
    "calibration_kg": _number_list("rising", _is_rising),
    "calibration_counts": _number_list("strictly rising or falling", _is_monotonic),
    "calibration_u_kg": _not_negative(),
    "repeatability_u_kg": _not_negative(),
}
_SCALE_PAIRS = (
    Pair(
        "calibration_counts",
        "as many numbers as calibration_kg has",
        lambda table: len(table["calibration_counts"]) == len(table["calibration_kg"]),
    ),
)

_PAN_SENSOR = Section(
    rules={
        "surface_ratio": _above_zero(1.2),
        "surface_ratio_u": _not_negative(),
        "lag_s": _between(0, 600),
        "lag_u_s": _not_negative(),
        "sensor_u_C": _not_negative(),
    }
)

_CONTAINER = Section(
    rules={"capacity_L": _above_zero(), "start_L": _not_negative(default=0.0)},
    pairs=(
        Pair(
            "start_L",
            "a number from 0 to capacity_L",
            lambda table: table["start_L"] <= table["capacity_L"],
        ),
    ),
)

SECTIONS: Mapping[str, Section] = {
    "procedure": _PROCEDURE,
    "fluid": _FLUID,
    "scale": Section(_SCALE_RULES, _SCALE_PAIRS),
    "pan_sensor": _PAN_SENSOR,
    "container": _CONTAINER,
    "supply_scale": Section(_SCALE_RULES, _SCALE_PAIRS, is_required=False),
}
