"""One attempt at the level: from the way to the window until the plug is shut.

Says when to open, when to shut, whether the spill will be done in time, and judges the end.
Works on what the temperature and the spill estimators say; the thresholds are probabilities.
"""

from dataclasses import dataclass
from enum import StrEnum

from drainscale.core.events import EventName
from drainscale.estimation.film import film_factor
from drainscale.estimation.spill import SpillModel
from drainscale.estimation.temperature import FluidTemperature
from drainscale.quantities.job import ProcedureLimits

SURE = 0.95  # JCGM 106: guard bands of the two window limits
NEAR_S = 90.0
THIN_AFTER_S = 10.0  # a spill that never exceeds the limit counts as thin after so long
NO_SPILL_AFTER_S = 25.0  # a mark may come eight seconds early, and oil takes its time
NO_SPILL_ML = 10.0  # less than this is what stood in the plug
RAN_ML = 1.0  # what the scale shows for sure
RAN_WITHIN_S = 8.0
OVERRUN_P = 0.15
OVERRUN_CLOSING_P = 0.5  # once the plug is to be shut anyhow, the likelier end is told
OVERRUN_IN_A_ROW = 3
# a noisy estimate touches the limit before the flow does: it has to be so far below, in units
# of its standard uncertainty
FIRST_PASSAGE = 0.6
UNSURE_S = 8.0
STOPPED_SHARE = 0.35
SETTLE_S = 4.0  # the spill's model is asked nothing before


class Verdict(StrEnum):
    """How an attempt ended."""

    CLOSED_IN_WINDOW = "closed-in-window"
    OVERRAN = "overran"
    NO_SPILL = "no-spill"
    NOT_REACHED = "not-reached"
    NOT_MEASURED = "not-measured"


FAILED = (Verdict.OVERRAN, Verdict.NO_SPILL, Verdict.NOT_REACHED)  # what is done again


@dataclass(frozen=True, slots=True)
class Closing:
    """The figures at the ``close-plug`` event."""

    t: float
    flow_mL_per_min: float
    fluid_C: float | None
    u_fluid_C: float | None
    excess_left_mL: float | None

    @property
    def U_fluid_C(self) -> float | None:
        """Expanded uncertainty (k = 2) of the fluid's temperature, K."""
        return None if self.u_fluid_C is None else 2.0 * self.u_fluid_C


class LevelCheck:
    """Watches one attempt.

    Args:
        limits: Of the procedure.
        temperature: The fluid's temperature, shared by all attempts.
    """

    def __init__(self, limits: ProcedureLimits, temperature: FluidTemperature) -> None:
        self._limits = limits
        self._low_C, self._high_C = limits.window_C
        self._temperature = temperature
        self.marked_s: float | None = None
        self.spill_s: float | None = None
        self.model: SpillModel | None = None
        self.viscosity_mm2_per_s: float | None = None  # of what spills
        self.spilled_mL = 0.0
        self._ran_mL = 0.0
        self._ran_s: float | None = None  # when that much had run
        self.shut_s: float | None = None
        self.closing: Closing | None = None
        self.finish: tuple[float | None, float | None] = (None, None)  # finishes_s, probability
        self.is_thin_soon = False
        self._told: set[EventName] = set()
        self._was_above_s: float | None = None
        self._in_window_s: float | None = None
        self._is_fluid_known = False  # while the plug was open; before it was, at any time
        self._overruns_in_a_row = 0
        self._unlikely_in_a_row = 0
        self.lately_mL_per_min: float | None = None  # by the last two seconds alone
        self._passed_upper_while_running = False
        self._crossed_s: float | None = None

    # --- what it is told -------------------------------------------------------------------

    def opened(self, t: float) -> None:
        """The technician says that the plug is open."""
        self._is_fluid_known &= self.is_open
        if self.marked_s is None:
            self.marked_s = t

    def spill_began(self, t: float) -> None:
        """Something runs."""
        self._is_fluid_known &= self.is_open
        self.spill_s = t

    def spill_withdrawn(self) -> None:
        """What was taken for a spill was none."""
        self.spill_s = self.model = self.lately_mL_per_min = None
        self.spilled_mL = self._ran_mL = 0.0
        self._was_above_s = self._crossed_s = None
        self.finish = (None, None)

    def shut(self, t: float) -> None:
        """The plug is shut."""
        if self.shut_s is None:
            self.shut_s = t

    @property
    def is_open(self) -> bool:
        """Whether the plug is (taken to be) open."""
        return self.shut_s is None and (self.marked_s is not None or self.spill_s is not None)

    @property
    def is_shut(self) -> bool:
        """Whether this attempt is over."""
        return self.shut_s is not None

    def told(self, event: EventName) -> bool:
        """Whether an event was given in this attempt."""
        return event in self._told

    def flow_mL_per_min(self, t: float) -> float | None:
        """Present spill; ``None`` while none is known."""
        if self.model is None:
            return None
        return 60.0 * self.model.flow_mL_per_s(t)[0]

    # --- what it says ----------------------------------------------------------------------

    def tick(self, t: float) -> list[EventName]:
        """Look at everything anew; return what is to be told now."""
        if self.is_shut:
            return []
        now = self._temperature.at(t)
        fluid_C = now.fluid_C if now else None
        self._is_fluid_known |= fluid_C is not None
        if fluid_C is not None and fluid_C >= self._low_C and self._in_window_s is None:
            self._in_window_s = t
        events = [*self._window(t, fluid_C), *self._spill(t, fluid_C)]
        events += self._no_spill(t, fluid_C)
        return [self._tell(event) for event in events if event not in self._told]

    def _tell(self, event: EventName) -> EventName:
        self._told.add(event)
        return event

    def _window(self, t: float, fluid_C: float | None) -> list[EventName]:
        events: list[EventName] = []
        temperature = self._temperature
        if fluid_C is None:
            return events
        opens_s = temperature.forecast(t).opens_s
        near = fluid_C >= self._low_C - self._limits.approach_K
        if near or (opens_s is not None and opens_s - t <= NEAR_S):
            events.append("window-near")
        if temperature.p_in_window(t) >= SURE:
            events.append("open-plug")
        if self._is_window_closing(t):
            events.append("window-closing")
        return events

    def _is_window_closing(self, t: float) -> bool:
        if self._in_window_s is None or self._temperature.p_below(t, self._high_C) >= SURE:
            return False
        if self.marked_s is not None:
            return True
        flow = self.flow_mL_per_min(t)
        return flow is not None and flow > self._limits.drip_flow_mL_per_min

    def _spill(self, t: float, fluid_C: float | None) -> list[EventName]:
        if self.spill_s is None or self.model is None or t - self.spill_s < SETTLE_S:
            return []
        mean, u = self.model.flow_mL_per_s(t)
        flow = 60.0 * mean
        limit = self._limits.close_flow_mL_per_min
        if flow + FIRST_PASSAGE * 60.0 * u >= limit:
            self._was_above_s = t if self._was_above_s is None else self._was_above_s
            self._crossed_s = None
            if fluid_C is not None and fluid_C > self._high_C:
                self._passed_upper_while_running = True
            return self._overrun()
        if self._crossed_s is None:
            self._crossed_s = t
        if not self._may_close(t, fluid_C) or self._may_have_been_shut(t, limit):
            return []
        if not self.told("close-plug"):
            self._close(t, flow)
        return ["close-plug"]

    def _may_have_been_shut(self, t: float, limit_mL_per_min: float) -> bool:
        """Whether the stream stopped at once: a plug does that, a thinning spill does not.

        For some seconds it cannot be told; then the end of the flow was seen, or it goes on.
        """
        if self._crossed_s is None or t - self._crossed_s > UNSURE_S:
            return False
        return self.lately_mL_per_min is not None and (
            self.lately_mL_per_min < STOPPED_SHARE * limit_mL_per_min
        )

    def _may_close(self, t: float, fluid_C: float | None) -> bool:
        in_window = fluid_C is not None and fluid_C >= self._low_C
        if not in_window or self.spill_s is None or self.spilled_mL < NO_SPILL_ML:
            return False
        if self._was_above_s is not None:
            return True
        since = max(self.spill_s, self._in_window_s if self._in_window_s is not None else t)
        return t - since >= THIN_AFTER_S and not self.told("no-spill")

    def _close(self, t: float, flow_mL_per_min: float) -> None:
        now = self._temperature.at(t)
        excess = self.model.excess_mL()[0] if self.model else None
        if excess is not None and self._limits.level_method == "standpipe":
            excess *= film_factor(flow_mL_per_min / 60.0, self.viscosity_mm2_per_s)
        self.closing = Closing(
            t, flow_mL_per_min, now.fluid_C if now else None, now.u_C if now else None, excess
        )

    def _overrun(self) -> list[EventName]:
        if self.told("close-plug"):  # it was thin; what swells again is the plug's business
            return []
        if self._passed_upper_while_running:
            return ["will-overrun"]
        is_sure = self._overruns_in_a_row >= OVERRUN_IN_A_ROW
        is_due = self.told("window-closing") and self._unlikely_in_a_row >= OVERRUN_IN_A_ROW
        return ["will-overrun"] if is_sure or is_due else []

    def _no_spill(self, t: float, fluid_C: float | None) -> list[EventName]:
        if self.marked_s is None or fluid_C is None or self.told("close-plug"):
            return []
        if not self._low_C <= fluid_C <= self._high_C or self.spilled_mL >= NO_SPILL_ML:
            return []
        if self._runs(t):
            return []
        since = max(self.marked_s, self._in_window_s if self._in_window_s is not None else t)
        return ["no-spill"] if t - since >= NO_SPILL_AFTER_S else []

    def _runs(self, t: float) -> bool:
        """Whether more than drips has run lately, by the scale: the model is slow to give up."""
        if self.spilled_mL > self._ran_mL + RAN_ML:
            self._ran_mL, self._ran_s = self.spilled_mL, t
        dripping_s = min(60.0 * RAN_ML / self._limits.drip_flow_mL_per_min, RAN_WITHIN_S)
        return self._ran_s is not None and t - self._ran_s < dripping_s

    def foresee(self, t: float) -> None:
        """Renew the forecast of the spill's end (asked for every few seconds)."""
        model = self.model
        if self.is_shut or model is None or self.spill_s is None or t - self.spill_s < SETTLE_S:
            return
        if self._crossed_s is not None:
            p = self._temperature.p_closes_after(t, self._crossed_s)
            self.finish = (self._crossed_s, p if p == p else None)
            self._overruns_in_a_row = self._unlikely_in_a_row = 0
            return
        finishes = model.finishes(self._limits.close_flow_mL_per_min / 60.0)
        p_in = 0.0
        for weight, seconds in finishes:
            if seconds is not None:
                p_in += weight * self._temperature.p_closes_after(t, t + seconds)
        self.finish = (_median(finishes, t), p_in if p_in == p_in else None)
        self._overruns_in_a_row = self._overruns_in_a_row + 1 if p_in < OVERRUN_P else 0
        self._unlikely_in_a_row = self._unlikely_in_a_row + 1 if p_in < OVERRUN_CLOSING_P else 0

    @property
    def is_too_late(self) -> bool:
        """Whether the window went by before the level was right: only cooling helps now."""
        if self.verdict is Verdict.CLOSED_IN_WINDOW:
            return False
        return self.verdict is Verdict.OVERRAN or self.told("window-closing")

    @property
    def _is_still_above(self) -> bool:
        """Whether the spill was above the close limit to the last."""
        return self._was_above_s is not None and self._crossed_s is None

    @property
    def verdict(self) -> Verdict:
        """How the attempt ended, by the best estimate at its ``close-plug``."""
        if self.closing is not None:
            fluid_C = self.closing.fluid_C
            if fluid_C is not None and fluid_C > self._high_C:
                return Verdict.OVERRAN
            return Verdict.CLOSED_IN_WINDOW
        if self.told("no-spill"):
            return Verdict.NO_SPILL
        if self._passed_upper_while_running or self.told("will-overrun"):
            return Verdict.OVERRAN
        if self.told("window-closing") and self._is_still_above:
            return Verdict.OVERRAN  # shut at the upper limit's guard band, as it was told
        if self._in_window_s is None and self._is_fluid_known:
            return Verdict.NOT_REACHED
        return Verdict.NOT_MEASURED


def _median(finishes: list[tuple[float, float | None]], t: float) -> float | None:
    """The time by which the spill has ended with probability one half; ``None`` if never."""
    known = sorted((s, w) for w, s in finishes if s is not None)
    acc = 0.0
    for seconds, weight in known:
        acc += weight
        if acc >= 0.5:
            return t + seconds
    return None
