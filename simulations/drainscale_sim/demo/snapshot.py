"""What the demo shows of the core at one moment: plain values, ``None`` where unknown."""

from collections.abc import Mapping
from dataclasses import dataclass

Interval = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The core's figures at one moment; expanded uncertainties (k = 2) begin with ``U_``."""

    t: float
    step: str
    cue: str
    why: str | None = None  # the reason of the cue, a sentence
    drained_L: float | None = None
    U_drained_L: float | None = None
    added_L: float | None = None
    U_added_L: float | None = None
    target_L: float | None = None
    spilled_L: float | None = None
    U_spilled_L: float | None = None
    flow_mL_per_min: float | None = None
    fluid_C: float | None = None
    U_fluid_K: float | None = None
    pan_C: float | None = None
    opens_s: float | None = None
    opens_90: Interval | None = None
    closes_s: float | None = None
    finishes_s: float | None = None
    p_finish_in_window: float | None = None


@dataclass(frozen=True, slots=True)
class Told:
    """One event as told."""

    t: float
    event: str
    step: str
    details: Mapping[str, object]
