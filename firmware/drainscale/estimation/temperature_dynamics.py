"""The heat balance of engine and fluid, and what a small change of each state does to it.

Two lumped bodies (Newton's law of cooling) and their first-order sensitivities, shared by
the filter and the forecast. All states of the heat side come first, so that the forecast can
leave the skin out by taking the first ``HEAT_SIZE`` rows.

    fluid'  = strength * (coupling * (engine - fluid) + churn - (fluid - air) / loss)
    engine' = pace * (engine_final - engine)
"""

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

from drainscale.estimation import temperature_priors as prior

FLUID: Final = 0  # °C
ENGINE: Final = 1  # °C
LN_COUPLING: Final = 2  # ln of 1/s
LN_PACE: Final = 3  # ln of 1/s
ENGINE_FINAL: Final = 4  # °C
CHURN: Final = 5  # K/s
LN_STRENGTH: Final = 6  # ln of 1
HEAT_SIZE: Final = 7

Row = list[float]


class HeatStep(NamedTuple):
    """One step of the heat balance: the new values and the sensitivities (d new / d old)."""

    fluid_C: float
    fluid_mid_C: float
    engine_C: float
    fluid_by: tuple[float, float, float, float, float, float, float]
    engine_by_engine: float
    engine_by_pace: float
    engine_by_final: float


def heat_rate_K_per_s(x: Sequence[float], air_C: float) -> float:
    """Heating rate of the fluid with the engine running, K/s."""
    drive = math.exp(x[LN_COUPLING]) * (x[ENGINE] - x[FLUID]) + x[CHURN]
    return math.exp(x[LN_STRENGTH]) * (drive - (x[FLUID] - air_C) / prior.LOSS_TIME_S)


def heat_step(x: Sequence[float], h: float, air_C: float) -> HeatStep:
    """Carry fluid and engine on by ``h`` seconds, the engine running.

    The engine is solved exactly, the fluid exactly against the engine's mean over the step:
    good to 0.02 K for steps up to 30 s.
    """
    pace, strength, coupling = (
        math.exp(x[LN_PACE]),
        math.exp(x[LN_STRENGTH]),
        math.exp(x[LN_COUPLING]),
    )
    loss = 1.0 / prior.LOSS_TIME_S
    keep_e = math.exp(-h * pace)
    gap = x[ENGINE_FINAL] - x[ENGINE]
    engine = x[ENGINE_FINAL] - gap * keep_e
    engine_mid = 0.5 * (x[ENGINE] + engine)
    k = strength * (coupling + loss)
    keep_f = math.exp(-h * k)
    gain = strength * (1.0 - keep_f) / k  # K of fluid per K/s of heat
    fluid = x[FLUID]
    rise = gain * (coupling * (engine_mid - fluid) + x[CHURN] - loss * (fluid - air_C))
    mid = fluid + 0.5 * rise
    half = 0.5 * gain * coupling
    by_pace = gap * keep_e * h * pace
    return HeatStep(
        fluid + rise, mid, engine,
        (keep_f, half * (1.0 + keep_e), 2.0 * half * (engine_mid - mid), half * by_pace,
         half * (1.0 - keep_e), gain, rise),
        keep_e, by_pace, 1.0 - keep_e,
    )  # fmt: skip


def heat_rows(step: HeatStep, p: list[Row]) -> tuple[Row, Row]:
    """Multiply the step's two rows of sensitivities with the covariance ``p``.

    Returns:
        Covariance of the new fluid and of the new engine with all *old* states.
    """
    a, b, c, d, e, f, g = step.fluid_by
    engine, pace, final = p[ENGINE], p[LN_PACE], p[ENGINE_FINAL]
    fluid_row = [
        a * p0 + b * p1 + c * p2 + d * p3 + e * p4 + f * p5 + g * p6
        for p0, p1, p2, p3, p4, p5, p6 in zip(
            p[FLUID], engine, p[LN_COUPLING], pace, final, p[CHURN], p[LN_STRENGTH], strict=True
        )
    ]
    a, b, c = step.engine_by_engine, step.engine_by_pace, step.engine_by_final
    engine_row = [a * p0 + b * p1 + c * p2 for p0, p1, p2 in zip(engine, pace, final, strict=True)]
    return fluid_row, engine_row


def by_fluid_step(step: HeatStep, row: Row) -> float:
    """Apply the fluid's sensitivities to a row: covariance with the *new* fluid."""
    a, b, c, d, e, f, g = step.fluid_by
    return (a * row[0] + b * row[1] + c * row[2] + d * row[3] + e * row[4] + f * row[5]
            + g * row[6])  # fmt: skip


def by_engine_step(step: HeatStep, row: Row) -> float:
    """Apply the engine's sensitivities to a row: covariance with the *new* engine."""
    return (step.engine_by_engine * row[ENGINE] + step.engine_by_pace * row[LN_PACE]
            + step.engine_by_final * row[ENGINE_FINAL])  # fmt: skip


def carry_heat(x: Row, p: list[Row], h: float, air_C: float) -> HeatStep:
    """Carry mean and covariance of the heat side on by ``h`` seconds, in place.

    Works on any covariance whose first rows are the heat side; process noise included.
    """
    step = heat_step(x, h, air_C)
    fluid_row, engine_row = heat_rows(step, p)
    ff, fe = by_fluid_step(step, fluid_row), by_engine_step(step, fluid_row)
    ee = by_engine_step(step, engine_row)
    fluid_row[FLUID], fluid_row[ENGINE] = ff + prior.FLUID_WALK_K_PER_SQRT_S**2 * h, fe
    engine_row[FLUID], engine_row[ENGINE] = fe, ee
    p[FLUID], p[ENGINE] = fluid_row, engine_row
    for i in range(LN_COUPLING, len(p)):
        p[i][FLUID], p[i][ENGINE] = fluid_row[i], engine_row[i]
    p[LN_STRENGTH][LN_STRENGTH] += prior.STRENGTH_WALK_PER_SQRT_S**2 * h
    x[FLUID], x[ENGINE] = step.fluid_C, step.engine_C
    return step
