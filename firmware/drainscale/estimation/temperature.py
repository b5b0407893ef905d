"""The fluid's temperature, inferred from a clamp on the pan, and when it is in the window.

Samples go in, in time order; questions may be asked for any time at or after the last one.
Nothing looks ahead, so a recording replays to the answers that the live bench gave.
"""

import math
from dataclasses import dataclass
from typing import Final

from drainscale.estimation import temperature_priors as prior
from drainscale.estimation.temperature_forecast import (
    LimitTimes,
    PathPoint,
    WindowForecast,
    along,
    heating_path,
    limit_times,
    normal_cdf,
    p_reached_by,
)
from drainscale.estimation.temperature_tracker import WarmUpTracker
from drainscale.quantities.job import PanSensor

FAULT_LIMIT_S: Final = 120.0
FAULT_LIMIT_U_K: Final = 2.5  # U = 2u of 5 K
_STRAIGHT_FOR_S: Final = 10.0  # so long the present rate serves; beyond it the model is run


@dataclass(frozen=True, slots=True)
class TemperatureEstimate:
    """The fluid at one time: °C and its standard uncertainty (k = 1), K."""

    t: float
    fluid_C: float
    u_C: float


class FluidTemperature:
    """Follow one service's fluid from the pan's readings.

    A value that cannot be known is None (probabilities: NaN, for which every comparison
    is false, so that no cue comes of it).

    Args:
        sensor: Priors of the clamp.
        window_C: Lower and upper limit of the fluid at the level check, °C.
    """

    def __init__(self, sensor: PanSensor, window_C: tuple[float, float]) -> None:
        self._window_C = window_C
        self._tracker = WarmUpTracker(sensor)
        self._path: list[PathPoint] = []
        self._path_version = -1
        self._limits: list[LimitTimes] = []  # of that path: asked for several times between blocks

    def pan(self, t: float, pan_C: float) -> None:
        """Take in a reading of the clamp (s, °C)."""
        self._tracker.pan(t, pan_C)

    def board(self, t: float, board_C: float) -> None:
        """Take in a reading of the converter's cold junction (s, °C)."""
        self._tracker.board(t, board_C)

    def reference(self, t: float, fluid_C: float) -> None:
        """Take in the fluid's temperature by another instrument (s, °C; u = 1 K)."""
        self._tracker.reference(t, fluid_C)

    def pan_fault(self, t: float) -> None:
        """Take note that the converter reported a fault instead of a reading."""
        del t  # a fault carries nothing but the lack of a reading
        self._tracker.flush()

    def engine_started(self, t: float) -> None:
        """Say that the engine runs since about ``t``; ten seconds off does no harm."""
        self._tracker.start(t)

    def engine_stopped(self, t: float) -> None:
        """Say that the engine stands: the fluid cools, and a new start is looked for."""
        self._tracker.stop(t)

    def forget_rise(self) -> None:
        """Say that the pan has not been warmed by the engine so far (fluid was filled in)."""
        self._tracker.forget_rise()

    @property
    def rise_s(self) -> float | None:
        """When the pan began to rise for sure after the (last) start, s."""
        return self._tracker.rise_s

    @property
    def rise_known_s(self) -> float | None:
        """When that was known, s."""
        return self._tracker.rise_known_s

    def at(self, t: float) -> TemperatureEstimate | None:
        """Estimate the fluid at ``t`` (s), at or after the last sample.

        Returns:
            None before the first readings, after `FAULT_LIMIT_S` without one, and while
            U would be above 5 K.
        """
        state, last_s = self._tracker.state, self._tracker.last_pan_s
        if state is None or last_s is None or t - last_s > FAULT_LIMIT_S:
            return None
        air_C = self._tracker.air_C
        if t - state.t > _STRAIGHT_FOR_S:
            state = state.copy()
            state.predict(t, air_C)
        if state.fluid_u_K > FAULT_LIMIT_U_K:
            return None
        fluid_C = state.fluid_C + (t - state.t) * state.rate_K_per_s(air_C)
        return TemperatureEstimate(t, fluid_C, state.fluid_u_K)

    def rate_K_per_s(self, t: float) -> float | None:
        """Rate of the fluid at ``t``, K/s; None where the temperature is not known."""
        state = self._tracker.state
        if state is None or self.at(t) is None:
            return None
        return state.rate_K_per_s(self._tracker.air_C)

    def p_below(self, t: float, limit_C: float) -> float:
        """Probability that the fluid is below a limit at ``t``; NaN where unknown.

        Source:
            JCGM 106:2012, 7.2 (conformance probability of a normal distribution).
        """
        now = self.at(t)
        return normal_cdf((limit_C - now.fluid_C) / now.u_C) if now else math.nan

    def p_in_window(self, t: float) -> float:
        """Probability that the fluid is within the window at ``t``; NaN where unknown.

        Source:
            JCGM 106:2012, 7.4 (two-sided tolerance interval).
        """
        return self.p_below(t, self._window_C[1]) - self.p_below(t, self._window_C[0])

    def forecast(self, t: float) -> WindowForecast:
        """Say when the fluid is at the window's limits, the past included.

        All None while the engine stands or the temperature is not known.
        """
        state = self._tracker.state
        if state is None or not state.running or self.at(t) is None:
            return WindowForecast(t, None, None, None, None)
        path = self._path_now()
        if not self._limits:
            self._limits = [limit_times(path, limit_C) for limit_C in self._window_C]
        low, high = (times.as_of(t) for times in self._limits)
        return WindowForecast(t, low.best_s, low.interval_s, high.best_s, high.interval_s)

    def p_closes_after(self, t: float, then: float) -> float:
        """Probability, as of ``t``, that the fluid is not above the window before ``then``.

        NaN where unknown; while the engine stands the window does not close: 1 if below.
        """
        state = self._tracker.state
        if state is None or self.at(t) is None:
            return math.nan
        if not state.running:
            return self.p_below(t, self._window_C[1])
        return 1.0 - p_reached_by(self._path_now(), self._window_C[1], then)

    def ahead(self, t: float, then: float) -> TemperatureEstimate | None:
        """Foresee, as of ``t``, the fluid at ``then`` (s); also backwards to the start.

        None where the temperature is not known or the engine stands. Beyond the time at
        which the fluid is surely above the window, the path's end stands.
        """
        state = self._tracker.state
        if state is None or not state.running or self.at(t) is None:
            return None
        point = along(self._path_now(), then)
        return TemperatureEstimate(then, point.fluid_C, point.u_K)

    def cools_to_s(self, t: float, limit_C: float) -> float | None:
        """Say when the fluid will have cooled to a limit with the engine standing, s.

        None where it is not known, or where the air is not below the limit.

        Source:
            Newton's law of cooling; its time constant is common practice, no source.
        """
        now, air_C = self.at(t), self._tracker.air_C
        if now is None or limit_C <= air_C:
            return None
        if now.fluid_C <= limit_C:
            return t
        return t + prior.COOLING_TIME_S * math.log((now.fluid_C - air_C) / (limit_C - air_C))

    def _path_now(self) -> list[PathPoint]:
        tracker = self._tracker
        state = tracker.state
        if state is not None and self._path_version != tracker.version:
            past = [point for point in tracker.history if point.t < state.t]
            ahead = heating_path(state.t, state.x, state.p, tracker.air_C, self._window_C[1])
            self._path, self._path_version = past + ahead, tracker.version
            self._limits = []
        return self._path
