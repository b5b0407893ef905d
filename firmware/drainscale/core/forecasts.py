"""One line of the forecast, as the contract wants it."""

from dataclasses import dataclass

from drainscale.core.story import Story

HORIZON_S = 3600.0

Interval = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Forecast:
    """What is foreseen at ``t``; ``None`` where unknown or too far ahead. Times in s."""

    t: float
    fluid_C: float | None
    U_fluid_C: float | None
    opens_s: float | None
    opens_90: Interval | None
    closes_s: float | None
    closes_90: Interval | None
    finishes_s: float | None
    p_finish_in_window: float | None

    def to_dict(self) -> dict[str, object]:
        """The forecast as the contract writes it."""
        return {
            "t": round(self.t, 3),
            "fluid_C": _rounded(self.fluid_C, 3),
            "U_fluid_C": _rounded(self.U_fluid_C, 3),
            "opens_s": _rounded(self.opens_s, 3),
            "opens_90": _rounded_interval(self.opens_90),
            "closes_s": _rounded(self.closes_s, 3),
            "closes_90": _rounded_interval(self.closes_90),
            "finishes_s": _rounded(self.finishes_s, 3),
            "p_finish_in_window": _rounded(self.p_finish_in_window, 4),
        }


def make_forecast(story: Story, t: float) -> Forecast:
    """Foresee at ``t``."""
    now = story.temperature.at(t)
    window = story.temperature.forecast(t)
    finishes_s: float | None = None
    p_finish: float | None = None
    if story.attempt is not None:
        finishes_s, p_finish = story.attempt.finish
    return Forecast(
        t,
        now.fluid_C if now else None,
        2.0 * now.u_C if now else None,
        _within(window.opens_s, t),
        _interval_within(window.opens_90, t),
        _within(window.closes_s, t),
        _interval_within(window.closes_90, t),
        _within(finishes_s, t),
        None if p_finish is None else min(max(p_finish, 0.0), 1.0),
    )


def _within(time_s: float | None, t: float) -> float | None:
    return None if time_s is None or time_s - t > HORIZON_S else time_s


def _interval_within(interval: Interval | None, t: float) -> Interval | None:
    return None if interval is None or interval[1] - t > HORIZON_S else interval


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def _rounded_interval(interval: Interval | None) -> list[float] | None:
    return None if interval is None else [round(interval[0], 3), round(interval[1], 3)]
