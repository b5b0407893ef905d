"""Messages without a number: what only matters now, and what the server says.

None of these is kept in the spool. ``now_s`` is the clock of the kit's process, seconds since
some instant of its own; it never goes back while ``boot`` is the same, and nothing compares it
with a wall clock.
"""

from typing import Literal

import msgspec

from drainscale.messages.records import FORMAT
from drainscale.quantities.job import FluidSheet, ProcedureLimits

COMMAND_LIFE_S = 5.0  # a command older than this changes nothing

Order = Literal["confirm", "back", "abort"]


class Kept(msgspec.Struct, frozen=True, kw_only=True):
    """What is not acknowledged yet of one start of the agent: numbers ``first`` to ``last``.

    Below ``first`` nothing can come again: a server that misses any of it has lost it for
    good, counts it as such and goes on, instead of waiting for ever.
    """

    boot: str
    first: int
    last: int


class Status(msgspec.Struct, frozen=True, kw_only=True):
    """Who is there. Retained; the broker's last will puts ``offline`` in its place.

    Attributes:
        reason: Why it is offline: ``stopped`` by its own word, ``lost`` by the last will.
        kept: What the spool holds that is not acknowledged yet, by start, oldest first.
        counters: How often things went wrong since the start, by name.
    """

    site: str
    bench: str
    boot: str
    state: Literal["online", "offline"]
    reason: str = ""
    kit_version: str = ""
    now_s: float | None = None
    is_clock_set: bool = False
    job: str | None = None
    step: str | None = None
    faults: tuple[str, ...] = ()
    kept: tuple[Kept, ...] = ()
    counters: dict[str, int] = {}
    format: int = FORMAT


class Figures(msgspec.Struct, frozen=True, kw_only=True):
    """The figures of the moment; None where nothing is known. As in the core's own snapshot."""

    t: float
    step: str
    scale_kg: float | None = None
    drained_20C_L: float | None = None
    U_drained_20C_L: float | None = None
    added_20C_L: float | None = None
    U_added_20C_L: float | None = None
    target_20C_L: float | None = None
    spilled_mL: float | None = None
    flow_mL_per_min: float | None = None
    still_to_come_mL: float | None = None
    pan_C: float | None = None
    pan_age_s: float | None = None
    scale_age_s: float | None = None
    fluid_C: float | None = None
    U_fluid_C: float | None = None
    opens_s: float | None = None
    opens_90: tuple[float, float] | None = None
    closes_s: float | None = None
    closes_90: tuple[float, float] | None = None
    finishes_s: float | None = None
    p_finish_in_window: float | None = None
    cold_enough_s: float | msgspec.UnsetType | None = msgspec.UNSET
    faults: tuple[str, ...] = ()


def figures_of(snapshot: object) -> Figures:
    """Take the figures of the core's snapshot over, by the names of its attributes."""
    return msgspec.convert(snapshot, Figures, from_attributes=True)


class Live(msgspec.Struct, frozen=True, kw_only=True):
    """What the bay board shows now. Lost if nobody listens; the samples are not."""

    site: str
    bench: str
    boot: str
    now_s: float
    job: str | None = None
    cue: str = "wait"
    cue_reason: str = ""
    figures: Figures | None = None
    format: int = FORMAT


class Command(msgspec.Struct, frozen=True, kw_only=True):
    """An order from the board to the kit.

    Attributes:
        id: New for each press; the same id is never carried out twice.
        boot, job, step: What the person had before them when they pressed.
        expires_s: On the kit's own clock: ``now_s`` of the latest ``live`` or ``status`` that
            the board had, plus five seconds. So neither clock has to be right.
        gate: Which gate a ``confirm`` answers, if the step has more than one; ``ID=ANSWER`` where
            more than yes is asked.
    """

    id: str
    boot: str
    step: str
    command: Order
    expires_s: float
    job: str | None = None
    gate: str | None = None
    format: int = FORMAT


class CommandAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What became of a command.

    ``is_repeat``: the id was answered before; this is that answer again, nothing was done.
    """

    id: str
    boot: str
    verdict: Literal["accepted", "refused"]
    now_s: float
    reason: str = ""
    is_repeat: bool = False
    format: int = FORMAT


class Ack(msgspec.Struct, frozen=True, kw_only=True):
    """The server's word, end to end: up to ``through`` all is stored or quarantined, no hole."""

    boot: str
    through: int
    format: int = FORMAT


class JobOrder(msgspec.Struct, frozen=True, kw_only=True):
    """The job that a bench is to do next; retained, an empty message takes it back.

    Scales, pan sensor and container are the bench's own and not in it.
    """

    job: str
    procedure: ProcedureLimits
    fluid: FluidSheet
    label: str = ""
    format: int = FORMAT
