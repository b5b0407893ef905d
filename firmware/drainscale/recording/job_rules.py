"""What a job file may hold: every key with its bound, its words for a message, its default. Pure.

These tables are the contract of the job file; ``ruled_toml.py`` holds a document against
them.
"""

from collections.abc import Mapping
from typing import Final

from drainscale.recording.toml_rules import (
    REQUIRED,
    Pair,
    Rule,
    Section,
    Table,
    above_zero,
    between,
    is_monotonic,
    is_rising,
    not_negative,
    number_list,
    window,
    word,
)

__all__ = ["JOB_FORMAT", "REQUIRED", "SECTIONS", "Rule", "Section"]

JOB_FORMAT: Final = 1

_MAX_FLOW_ML_PER_MIN = 2000

_PROCEDURE = Section(
    rules={
        "level_method": word("standpipe", "check-plug"),
        "fill_via": word("fill-plug", "check-plug", default="fill-plug"),
        "window_C": window(0, 130),
        "allowance_L": between(0, 5),
        "close_flow_mL_per_min": above_zero(_MAX_FLOW_ML_PER_MIN),
        "drip_flow_mL_per_min": above_zero(_MAX_FLOW_ML_PER_MIN),
        "approach_K": between(0, 30, default=3.0),
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
        "density_kg_per_m3": between(600, 1200),
        "density_C": between(-20, 110),
        "density_u_kg_per_m3": between(0, 50),
        **{key: between(1, 1000, default=None) for key in _VISCOSITIES},
    },
    pairs=(
        Pair(_VISCOSITIES[1], "given together with the other viscosity", _both_or_neither),
        Pair(_VISCOSITIES[1], "a number below viscosity_40C_mm2_per_s", _falling_if_known),
    ),
)

_SCALE_RULES = {
    "capacity_kg": above_zero(500),
    "rate_Hz": between(1, 320),
    "calibration_kg": number_list("rising", is_rising),
    "calibration_counts": number_list("strictly rising or falling", is_monotonic),
    "calibration_u_kg": not_negative(),
    "repeatability_u_kg": not_negative(),
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
        "surface_ratio": above_zero(1.2),
        "surface_ratio_u": not_negative(),
        "lag_s": between(0, 600),
        "lag_u_s": not_negative(),
        "sensor_u_C": not_negative(),
    }
)

_CONTAINER = Section(
    rules={"capacity_L": above_zero(), "start_L": not_negative(default=0.0)},
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
