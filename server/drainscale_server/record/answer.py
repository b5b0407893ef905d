"""The kit's answer, read from the dict that a result message carries. Pure.

What the message holds is not checked when it is stored: a kit of another version, or a broken
one, may send anything. So it is read here into types, all or nothing. Fields that are missing or
null read as None; those not known are ignored.
"""

from typing import Any

import msgspec


class BudgetLine(msgspec.Struct, frozen=True, kw_only=True):
    """One source of uncertainty."""

    source: str
    u_L: float
    share: float


class StageTold(msgspec.Struct, frozen=True, kw_only=True):
    """One flow of the drain."""

    step: str
    mass_kg: float | None = None
    volume_L: float | None = None
    started_s: float | None = None
    dripped_s: float | None = None


class DrainedTold(msgspec.Struct, frozen=True, kw_only=True):
    """What ran out before the refill."""

    mass_kg: float | None = None
    volume_L: float | None = None
    volume_20C_L: float | None = None
    U_volume_L: float | None = None
    stages: list[StageTold] = []
    budget: list[BudgetLine] = []


class RefillTold(msgspec.Struct, frozen=True, kw_only=True):
    """What went in."""

    target_volume_20C_L: float | None = None
    added_mass_kg: float | None = None
    added_volume_20C_L: float | None = None
    U_volume_L: float | None = None


class SpillTold(msgspec.Struct, frozen=True, kw_only=True):
    """What ran out of the level opening."""

    mass_kg: float | None = None
    volume_L: float | None = None
    volume_20C_L: float | None = None
    U_volume_L: float | None = None


class NetTold(msgspec.Struct, frozen=True, kw_only=True):
    """Added - spilled - drained."""

    volume_20C_L: float | None = None
    U_volume_L: float | None = None


class LevelTold(msgspec.Struct, frozen=True, kw_only=True):
    """How the level was set."""

    verdict: str = "not-measured"
    flow_at_close_mL_per_min: float | None = None
    temperature_at_close_C: float | None = None
    U_temperature_C: float | None = None
    excess_left_mL: float | None = None


class StepTold(msgspec.Struct, frozen=True, kw_only=True):
    """A step that was entered."""

    step: str
    started_s: float


class ForecastTold(msgspec.Struct, frozen=True, kw_only=True):
    """Estimate and forecasts at one instant."""

    t: float
    fluid_C: float | None = None
    U_fluid_C: float | None = None
    opens_s: float | None = None
    opens_90: tuple[float, float] | None = None
    closes_s: float | None = None
    closes_90: tuple[float, float] | None = None


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """The answer of one service, format 1."""

    drained: DrainedTold = DrainedTold()
    refill: RefillTold = RefillTold()
    spill: SpillTold = SpillTold()
    net: NetTold = NetTold()
    level: LevelTold = LevelTold()
    gaps: list[tuple[float, float]] = []
    steps: list[StepTold] = []
    forecasts: list[ForecastTold] = []


# beyond what any kit could mean, in any unit that an answer has: a number that would only break
# whoever reckons with it
LARGEST = 1e9


def read_answer(result: dict[str, Any] | None) -> Answer | None:
    """Read an answer.

    Returns:
        It; None if there is none, or if it is not of this form or beyond ``LARGEST``.
    """
    if result is None or not _is_bounded(result):
        return None
    try:
        return msgspec.convert(result, Answer)
    except (msgspec.ValidationError, RecursionError):
        return None


def _is_bounded(value: object) -> bool:
    if isinstance(value, int | float):
        return abs(value) <= LARGEST  # no: infinity, which 1e999 reads as, and what is no number
    if isinstance(value, dict):
        return all(map(_is_bounded, value.values()))
    if isinstance(value, list):
        return all(map(_is_bounded, value))
    return True
