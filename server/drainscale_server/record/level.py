"""How the level was set: temperatures, flow, attempts. Pure."""

from collections.abc import Iterable, Sequence

from drainscale_server.record.answer import Answer, ForecastTold, StepTold
from drainscale_server.record.model import Attempt, Level, Reading
from drainscale_server.store.rows import EventRow

NOT_OLDER_S = 10.0  # an estimate that is older says nothing about an instant
ENDS_AN_ATTEMPT = ("seal", "refill", "warm", "done")
TOLD_OF_ATTEMPTS = ("open-plug", "close-plug", "no-spill", "will-overrun", "window-closing")


def level_of(answer: Answer, events: Sequence[EventRow]) -> Level:
    """Form the part on the level check."""
    told = answer.level
    shut_t = _last_t(events, "close-plug")
    has_shut = told.flow_at_close_mL_per_min is not None
    return Level(
        verdict=told.verdict,
        open_cue=reading_at(answer.forecasts, _last_t(events, "open-plug")),
        shut_cue=Reading(
            t=shut_t if has_shut else None,
            fluid_C=told.temperature_at_close_C,
            U_fluid_C=told.U_temperature_C,
        ),
        flow_at_shut_cue_mL_per_min=told.flow_at_close_mL_per_min,
        excess_left_mL=told.excess_left_mL,
        attempts=[
            Attempt(
                opened=reading_at(answer.forecasts, from_s),
                shut=reading_at(answer.forecasts, to_s),
                events=_told_between(events, from_s, to_s),
            )
            for from_s, to_s in attempts_of(answer.steps)
        ],
    )


def attempts_of(steps: Sequence[StepTold]) -> list[tuple[float, float | None]]:
    """List the attempts: from each ``level`` to what ended it; None: nothing did."""
    spans: list[tuple[float, float | None]] = []
    for i, step in enumerate(steps):
        if step.step == "level":
            after = steps[i + 1 :]
            spans.append((step.started_s, _first_s(after, ENDS_AN_ATTEMPT)))
    return spans


def reading_at(forecasts: Iterable[ForecastTold], t: float | None) -> Reading:
    """Give the estimate as it stood at an instant: the last one, if it is not too old."""
    if t is None:
        return Reading(t=None, fluid_C=None, U_fluid_C=None)
    before = [one for one in forecasts if 0.0 <= t - one.t <= NOT_OLDER_S]
    if not before:
        return Reading(t=t, fluid_C=None, U_fluid_C=None)
    last = before[-1]
    return Reading(t=t, fluid_C=last.fluid_C, U_fluid_C=last.U_fluid_C)


def _told_between(events: Iterable[EventRow], from_s: float, to_s: float | None) -> list[str]:
    return [
        one.event
        for one in events
        if one.event in TOLD_OF_ATTEMPTS and from_s <= one.t and (to_s is None or one.t <= to_s)
    ]


def _last_t(events: Iterable[EventRow], name: str) -> float | None:
    return max((one.t for one in events if one.event == name), default=None)


def _first_s(steps: Iterable[StepTold], names: Sequence[str]) -> float | None:
    return next((one.started_s for one in steps if one.step in names), None)
