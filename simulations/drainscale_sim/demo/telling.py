"""What the kit's process tells the demo: a line of JSON for each look, then one of the end."""

from typing import Any

import msgspec

from drainscale_sim.demo.snapshot import Snapshot, Told


class Report(msgspec.Struct, frozen=True, tag="report"):
    """One look, and what happened since the one before.

    Attributes:
        now: The figures.
        told: Events.
        lit: Lamps that were lit at some time.
        is_sounding: Whether the sounder was on at some time.
        presses: How often the foot switch was pressed.
    """

    now: Snapshot
    told: tuple[Told, ...]
    lit: frozenset[str]
    is_sounding: bool
    presses: int


class Ended(msgspec.Struct, frozen=True, tag="ended"):
    """The agent came to its end by itself.

    Attributes:
        is_done: Whether the procedure did.
        answer: The record, as ``drainscale replay`` writes it.
        told, presses: What happened after the last look.
    """

    is_done: bool
    answer: dict[str, Any]
    told: tuple[Told, ...]
    presses: int


Line = Report | Ended


def write(line: Line) -> bytes:
    """Write one line."""
    return msgspec.json.encode(line) + b"\n"


def read(text: bytes) -> Line:
    """Read one line.

    Raises:
        ValueError: It is none of them.
    """
    line: Line = msgspec.json.decode(text, type=Line)
    return line
