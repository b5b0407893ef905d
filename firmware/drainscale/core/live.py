"""The figures of the moment, for lamps, board and terminal."""

from dataclasses import dataclass

from drainscale.procedure.steps import Step


@dataclass(frozen=True, slots=True)
class Live:
    """A snapshot at ``t``; ``None`` where nothing is known. Volumes in litres at 20 °C."""

    t: float
    step: Step
    scale_kg: float | None
    drained_20C_L: float | None
    U_drained_L: float | None
    added_20C_L: float | None
    target_20C_L: float | None
    spilled_mL: float | None
    flow_mL_per_min: float | None
    still_to_come_mL: float | None
    pan_C: float | None
    pan_age_s: float | None
    fluid_C: float | None
    U_fluid_C: float | None
    window_C: tuple[float, float]
    opens_s: float | None
    opens_90: tuple[float, float] | None
    closes_s: float | None
    closes_90: tuple[float, float] | None
    finishes_s: float | None
    p_finish_in_window: float | None
    faults: tuple[str, ...]
    is_shaken: bool
