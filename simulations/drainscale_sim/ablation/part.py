"""A part of the measuring core that can be switched off, or done otherwise, for a while."""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Patch:
    """One attribute of a module or class, and what it is to be meanwhile."""

    owner: Any
    name: str
    value: Any


@dataclass(frozen=True, slots=True)
class Part:
    """One thing to switch off (or to do otherwise).

    Attributes:
        key: Short name for the command line.
        what: The part, for people.
        instead: What is done instead.
        patches: How.
        is_choice: Another choice was to be made here; nothing is switched off.
    """

    key: str
    what: str
    instead: str
    patches: tuple[Patch, ...]
    is_choice: bool = False


def part(key: str, what: str, instead: str, *patches: tuple[Any, str, Any]) -> Part:
    """Name a part to switch off."""
    return Part(key, what, instead, tuple(Patch(*one) for one in patches))


def choice(key: str, what: str, instead: str, *patches: tuple[Any, str, Any]) -> Part:
    """Name another choice than the one made."""
    return Part(key, what, instead, tuple(Patch(*one) for one in patches), is_choice=True)


@contextmanager
def switched(part: Part) -> Iterator[None]:
    """Switch a part off within a ``with`` block.

    Raises:
        AttributeError: The core has no such attribute (any more): the part is out of date.
    """
    with ExitStack() as undo:
        for patch in part.patches:
            before = vars(patch.owner)[patch.name] if _has(patch) else _missing(patch)
            undo.callback(setattr, patch.owner, patch.name, before)
            setattr(patch.owner, patch.name, patch.value)
        yield


def _has(patch: Patch) -> bool:
    return patch.name in vars(patch.owner)


def _missing(patch: Patch) -> Any:
    raise AttributeError(f"{patch.owner.__name__} has no {patch.name} to switch off")
