"""The gates that are measured: what they look at and what they say.

A check gives True or False, or None where it cannot be known; then a person may confirm it.
"""

from collections.abc import Callable
from dataclasses import dataclass

from drainscale.procedure.steps import Step
from drainscale.quantities.job import ProcedureLimits

COLD_START_MARGIN_K = 5.0
"""The fluid has to be this far below the window when the engine starts, so that the window is not
over before the gears are through. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GateFacts:
    """What the gates look at; None where it was not measured."""

    step: Step
    fluid_C: float | None = None
    drained_20C_L: float | None = None
    added_20C_L: float | None = None
    """Over all fills, weighed and typed in."""
    has_overflowed: bool | None = None
    """It ran out of the check hole before the engine was started."""
    is_engine_on: bool = False
    """As far as the steps tell (``Situation.is_engine_on``): which gates are asked."""
    is_engine_running: bool | None = None
    """As seen by a sensor."""
    is_recorded: bool | None = None
    """Drained, added and spilled volume all stand in the result."""


Check = Callable[[GateFacts, ProcedureLimits], bool | None]


def cold_start_limit_C(limits: ProcedureLimits) -> float:
    """The highest fluid temperature at which the engine may be started, °C."""
    return limits.window_C[0] - COLD_START_MARGIN_K


def fluid_is_cold_enough(facts: GateFacts, limits: ProcedureLimits) -> bool | None:
    """The fluid, by best estimate, is cold enough for the engine to start."""
    return None if facts.fluid_C is None else facts.fluid_C <= cold_start_limit_C(limits)


def drained_is_back_in(facts: GateFacts, _limits: ProcedureLimits) -> bool | None:
    """At least what was drained went in again, both at 20 °C."""
    if facts.drained_20C_L is None or facts.added_20C_L is None:
        return None
    return facts.added_20C_L >= facts.drained_20C_L


def target_is_in(facts: GateFacts, limits: ProcedureLimits) -> bool | None:
    """Drained + allowance went in, over all fills, both at 20 °C."""
    if facts.drained_20C_L is None or facts.added_20C_L is None:
        return None
    return facts.added_20C_L >= facts.drained_20C_L + limits.allowance_L


def it_overflowed(facts: GateFacts, _limits: ProcedureLimits) -> bool | None:
    """The check hole overflowed while the engine was off."""
    return facts.has_overflowed


def engine_is_running(facts: GateFacts, _limits: ProcedureLimits) -> bool | None:
    """The engine idles."""
    return facts.is_engine_running


def volumes_are_recorded(facts: GateFacts, _limits: ProcedureLimits) -> bool | None:
    """Drained, added and spilled volume stand in the result."""
    return facts.is_recorded
