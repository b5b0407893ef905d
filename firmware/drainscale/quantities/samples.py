"""What the sensors and the technician say: one class per kind of record.

``t`` is in seconds after the recording's base time (live: after the job's start), never
decreasing. Nothing here is interpreted or filtered.
"""

from dataclasses import dataclass
from typing import Literal

PanFaultKind = Literal["open", "short-to-ground", "short-to-supply"]
PAN_FAULTS: tuple[PanFaultKind, ...] = ("open", "short-to-ground", "short-to-supply")

# the order of a service; the procedure's table says what may follow what
STEP_NAMES = (
    "prepare",
    "drain",
    "drain-pan",
    "refit",
    "refill",
    "circulate",
    "warm",
    "level",
    "seal",
    "done",
)


@dataclass(frozen=True, slots=True)
class ScaleCount:
    """One raw 24-bit conversion of the load cell under the platform (or the supply's)."""

    t: float
    count: int
    is_supply: bool = False


@dataclass(frozen=True, slots=True)
class PanReading:
    """Clamp-on thermocouple at the pan, °C, as its converter gave it."""

    t: float
    pan_C: float


@dataclass(frozen=True, slots=True)
class BoardReading:
    """The converter's cold junction, °C: near-ambient air."""

    t: float
    board_C: float


@dataclass(frozen=True, slots=True)
class PanFault:
    """The converter reports a fault in place of a reading."""

    t: float
    kind: PanFaultKind


@dataclass(frozen=True, slots=True)
class Reference:
    """A fluid temperature read on another instrument, typed in; u = 1.0 K."""

    t: float
    fluid_C: float


@dataclass(frozen=True, slots=True)
class AddedByHand:
    """Litres at 20 °C that went in without being weighed, typed in; u = 0.05 L."""

    t: float
    volume_20C_L: float


@dataclass(frozen=True, slots=True)
class StepMark:
    """The technician says which step begins now."""

    t: float
    step: str


Sample = ScaleCount | PanReading | BoardReading | PanFault | Reference | AddedByHand | StepMark
