"""What the demo shows of the core at one moment: plain values, ``None`` where unknown."""

from dataclasses import dataclass

Interval = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """The core's figures at one moment.

    Volumes drained and added are litres at 20 °C; ``U_`` is an expanded uncertainty (k = 2);
    times are seconds of the recording.
    """

    t: float
    step: str
    cue: str
    why: str | None = None  # the reason of the cue, a sentence
    drained_L: float | None = None
    U_drained_L: float | None = None
    added_L: float | None = None
    U_added_L: float | None = None
    target_L: float | None = None
    spilled_mL: float | None = None
    flow_mL_per_min: float | None = None
    still_to_come_mL: float | None = None
    fluid_C: float | None = None
    U_fluid_K: float | None = None
    pan_C: float | None = None
    opens_s: float | None = None
    opens_90: Interval | None = None
    closes_s: float | None = None
    finishes_s: float | None = None
    p_finish_in_window: float | None = None
    faults: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Told:
    """One event as told."""

    t: float
    event: str
    step: str
    sensor: str | None = None
