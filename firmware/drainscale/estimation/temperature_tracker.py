"""From samples to the state that holds now: blocks, soak, start, rise, stop.

Readings are averaged over `BLOCK_S`. An idle filter runs from the first block; from the told
start a running one goes beside it. Once the rise of the pan is sure, the likeliest start is
looked for. The idle filter stays until the start is beyond doubt: if it turns out to be none,
nothing that was learnt from it remains.
"""

import math
from typing import Final

from drainscale.estimation import temperature_priors as prior
from drainscale.estimation.temperature_air import Air
from drainscale.estimation.temperature_filter import WarmUpFilter
from drainscale.estimation.temperature_forecast import PathPoint
from drainscale.estimation.temperature_rise import RiseDetector
from drainscale.estimation.temperature_start import Reading, StartSearch, feed
from drainscale.quantities.job import PanSensor

_HISTORY_STEP_S: Final = 5.0
_COLDEST_C: Final = -40.0
_HOTTEST_C: Final = 200.0
_STRAY_K: Final = 2.0  # within a block of three seconds a pan does not move that far
# after a stop the skin goes on towards the fluid, by its lag
_LAGS_TO_SETTLE: Final = 4.0
_LEAST_DEAF_S: Final = 60.0
# so long after an inferred start the pan may show that it was none: filled with warm fluid,
# or the clamp put on a warm pan
_PROVEN_AFTER_S: Final = 300.0


class WarmUpTracker:
    """Feeds the filters; ``state`` is the one that holds, ``history`` the fluid since the start."""

    def __init__(self, sensor: PanSensor) -> None:
        self._sensor = sensor
        self._air = Air()
        self._block_t: list[float] = []
        self._block_C: list[float] = []
        self._idle: WarmUpFilter | None = None
        self._warm: WarmUpFilter | None = None
        self._rise = RiseDetector()
        self._search = StartSearch()
        self._told_s: float | None = None
        self._deaf_until_s = -math.inf  # to a rise: after a stop the skin still goes up
        self.air_C = 0.0  # as of the last block, so that answers don't depend on when one asks
        self._soak_due_s: float | None = None
        self.rise_s: float | None = None
        self.rise_known_s: float | None = None
        self.last_pan_s: float | None = None
        self.history: list[PathPoint] = []
        self.version = 0  # goes up whenever the state changes

    @property
    def state(self) -> WarmUpFilter | None:
        """The filter that holds now; None before the first block."""
        return self._warm or self._idle

    def board(self, t: float, board_C: float) -> None:
        """Take in a cold-junction reading; one that no air can have is left out."""
        if _COLDEST_C <= board_C <= _HOTTEST_C:
            self._air.add(t, board_C)

    def pan(self, t: float, pan_C: float) -> None:
        """Take in a pan reading; one that no pan can have is left out, like a fault."""
        if not _COLDEST_C <= pan_C <= _HOTTEST_C:
            return
        if self._block_t and t - self._block_t[0] >= prior.BLOCK_S:
            self.flush()
        self._block_t.append(t)
        self._block_C.append(pan_C)
        self.last_pan_s = t

    def flush(self) -> None:
        """Close the block of pan readings, if there is one."""
        n = len(self._block_t)
        if not n:
            return
        middle_C = sorted(self._block_C)[n // 2]
        good_C = [pan_C for pan_C in self._block_C if abs(pan_C - middle_C) <= _STRAY_K]
        t, pan_C = sum(self._block_t) / n, sum(good_C) / len(good_C)
        self._block_t.clear()
        self._block_C.clear()
        u_K = math.sqrt(prior.READING_U_K**2 / len(good_C) + prior.BLOCK_FLOOR_U_K**2)
        self._note_air(pan_C)
        if self.state is None:
            self._idle = WarmUpFilter(self._sensor, t, pan_C, self.air_C)
            self._soak_due_s = t + prior.SOAK_AFTER_S
            if self._told_s is not None:
                self._run(t)
        self._take(Reading(t, pan_C, u_K, self.air_C))

    def _note_air(self, pan_C: float) -> None:
        air_C, state = self._air.air_C, self.state
        if air_C is not None:
            self.air_C = air_C
        elif state is None:  # no cold junction: at first all is near one temperature
            self.air_C = pan_C

    def reference(self, t: float, fluid_C: float) -> None:
        """Take in a reading of the fluid by another instrument; a slip of the pen is left out."""
        self.flush()
        state = self.state
        if state is None or not _COLDEST_C <= fluid_C <= _HOTTEST_C:
            return
        reading = Reading(t, fluid_C, prior.REFERENCE_U_K, self.air_C, is_fluid=True)
        state.predict(t, reading.air_C)
        before_C, before_u_K = state.fluid_C, state.fluid_u_K
        self._feed(reading)
        self._correct_history(state.fluid_C - before_C, before_C, state.fluid_u_K / before_u_K)

    def start(self, t: float) -> None:
        """Take the engine as running from ``t`` on.

        Of several tellings the first counts ("warming" is marked long after the start), and a
        rise found here that is told back is no news.
        """
        if self._told_s is not None or t == self.rise_s:
            return
        self._told_s = t
        if self._warm is None:
            self._run(t)

    def _run(self, t: float) -> None:
        """Let a running filter go beside the idle one."""
        if self._idle is None:
            return
        self._warm = self._idle.copy()
        self._warm.predict(t, self.air_C)
        self._warm.start(self.air_C)
        self._note_history(t)
        self.version += 1

    def stop(self, t: float) -> None:
        """Take the engine as standing from ``t`` on; a new start may follow."""
        self._stand(t)
        self._deaf_until_s = t + max(_LAGS_TO_SETTLE * self._sensor.lag_s, _LEAST_DEAF_S)

    def _stand(self, t: float) -> None:
        self.flush()
        state = self.state
        self._told_s = None
        if state is not None:
            state.predict(t, self.air_C)
            state.stop()
        self._idle, self._warm = state, None
        self._forget_rise()

    def forget_rise(self) -> None:
        """Nothing so far was the engine: fluid was being filled in, or the pan touched.

        A start that was told stands.
        """
        if self._told_s is not None:
            return
        if self._idle is None and self._warm is not None:
            self._stand(self._warm.t)
            return
        self._warm = None
        self._forget_rise()

    def _forget_rise(self) -> None:
        self._rise.clear()
        self._search.clear()
        self.history.clear()
        self.rise_s = self.rise_known_s = None
        self.version += 1

    def _take(self, reading: Reading) -> None:
        self._feed(reading)
        self._consider_soak(reading.t)
        if self._idle is not None and reading.t >= self._deaf_until_s:
            self._rise.add(reading)
            if self.rise_s is None:
                self._look_for_rise(reading.t)
            else:
                self._doubt_rise(reading.t)
        self._note_history(reading.t)

    def _feed(self, reading: Reading) -> None:
        if self._warm is not None:
            feed(self._warm, reading)
        if self._idle is not None:
            feed(self._idle, reading)
            if self._idle.let_go_s == reading.t:  # a clamp put on a warm pan, no engine
                self._rise.clear()
                self._search.clear()
            self._search.add(self._idle, reading)
        self.version += 1

    def _look_for_rise(self, t: float) -> None:
        rise_s = self._rise.began_s()
        if rise_s is None:
            return
        self.rise_s, self.rise_known_s = rise_s, t
        found = self._search.likeliest(rise_s, self._told_s)
        if found is not None:
            _, self._warm = found
            self.history.clear()
        self._doubt_rise(t)

    def _doubt_rise(self, t: float) -> None:
        """Take an inferred start back if the pan stands still soon; believe it in the end."""
        known_s = self.rise_known_s
        if self._told_s is not None or known_s is None or t - known_s > _PROVEN_AFTER_S:
            if self._warm is not None:
                self._idle = None
                self._search.clear()
        elif self._rise.has_stopped():
            self.forget_rise()

    def _consider_soak(self, t: float) -> None:
        soak_C = self._air.soak_C
        if self._soak_due_s is None or t < self._soak_due_s or soak_C is None:
            return
        self._soak_due_s = None
        if self._warm is None and self._idle is not None:
            self._idle.soak(soak_C)

    def _note_history(self, t: float) -> None:
        state = self._warm
        if state is None or (self.history and t - self.history[-1].t < _HISTORY_STEP_S):
            return
        self.history.append(PathPoint(t, state.fluid_C, state.fluid_u_K))

    def _correct_history(self, by_K: float, fluid_C: float, narrower: float) -> None:
        """Let a reference correct the past too, in proportion to the warmth above the air."""
        air_C = self.air_C
        if abs(fluid_C - air_C) < 1.0:
            return
        self.history = [
            PathPoint(
                point.t,
                point.fluid_C + by_K * min(1.0, (point.fluid_C - air_C) / (fluid_C - air_C)),
                point.u_K * narrower,
            )
            for point in self.history
        ]
