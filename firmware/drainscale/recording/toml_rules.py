"""What a key of a TOML file may hold: bounds with their words for a message. Pure.

``ruled_toml.py`` holds a document against tables made of these. What binds keys together
stands in the pairs of a section.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

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


def between(low: float, high: float, default: object = REQUIRED) -> Rule:
    """Allow a number within bounds, both included."""

    def accepts(value: Any) -> bool:
        return is_number(value) and low <= value <= high

    return Rule(f"a number from {low:g} to {high:g}", accepts, default)


def above_zero(high: float = math.inf) -> Rule:
    """Allow a number above 0."""

    def accepts(value: Any) -> bool:
        return is_number(value) and 0 < value <= high

    return Rule("a number above 0" + (f", to {high:g}" if high < math.inf else ""), accepts)


def not_negative(default: object = REQUIRED) -> Rule:
    """Allow 0 or more."""

    def accepts(value: Any) -> bool:
        return is_number(value) and value >= 0

    return Rule("a number, 0 or more", accepts, default)


def word(*words: str, default: object = REQUIRED) -> Rule:
    """Allow one of some words."""
    allowed = " or ".join(f"'{word}'" for word in words)
    return Rule(allowed, lambda value: isinstance(value, str) and value in words, default)


def any_text(allowed: str, default: object = REQUIRED) -> Rule:
    """Allow any text but the empty one."""
    return Rule(allowed, lambda value: isinstance(value, str) and value != "", default)


def _is_number_list(value: object, shortest: int) -> bool:
    return isinstance(value, list) and len(value) >= shortest and all(map(is_number, value))


def is_rising(values: list[float]) -> bool:
    """Tell whether numbers rise, as floats."""
    # as floats: two integers may differ by less than a float can tell
    return all(before < after for before, after in pairwise(map(float, values)))


def is_monotonic(values: list[float]) -> bool:
    """Tell whether numbers rise or fall throughout."""
    return is_rising(values) or is_rising(values[::-1])


def window(low: float, high: float) -> Rule:
    """Allow two rising numbers within bounds."""

    def accepts(value: Any) -> bool:
        if not _is_number_list(value, 2) or len(value) != 2:
            return False
        return bool(low <= value[0] < value[1] <= high)

    return Rule(f"two numbers, rising, {low:g} to {high:g}", accepts)


def number_list(order: str, in_order: Callable[[list[float]], bool]) -> Rule:
    """Allow two or more numbers in an order."""

    def accepts(value: Any) -> bool:
        return _is_number_list(value, 2) and in_order(value)

    return Rule(f"a list of 2 or more numbers, {order}", accepts)
