"""The measuring core: samples in; events, forecasts, live figures and the result out.

One object is one service. It reads no clock: its time is that of the samples, and what it says
at ``t`` rests on nothing later. Whatever feeds it, live sensors, a recording or a simulated
bench, it answers the same.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from drainscale.core.cooling import Cooling
from drainscale.core.cueing import cue_facts
from drainscale.core.drain_side import DrainSide
from drainscale.core.events import Event, SensorName
from drainscale.core.forecasts import Forecast, make_forecast
from drainscale.core.giving import Giving
from drainscale.core.live import (
    Live,
    amounts_now,
    flow_now_mL_per_min,
    spilled_now_mL,
    still_to_come_mL,
)
from drainscale.core.result import Result, form_result
from drainscale.core.scale_channel import ScaleChannel
from drainscale.core.sensor_watch import SILENT_S, SensorWatch
from drainscale.core.step_log import StepLog
from drainscale.core.story import CHECK_STEPS, Added, Story
from drainscale.core.supply_side import SupplySide
from drainscale.estimation.temperature import FluidTemperature
from drainscale.procedure.cue_facts import CueName
from drainscale.procedure.cues import decide
from drainscale.procedure.events import FluidGoingIn, Marked, OutletShut, PanRose
from drainscale.procedure.situation import Situation
from drainscale.procedure.steps import Step
from drainscale.quantities.density import FluidDensity
from drainscale.quantities.job import Job
from drainscale.quantities.samples import (
    AddedByHand,
    BoardReading,
    PanFault,
    PanReading,
    Reference,
    Sample,
    ScaleCount,
    StepMark,
)

TICK_S = 0.5
FORECAST_S = 2.5
# no sensor at all said anything for longer: not they were silent, the bench stood still
GAP_S = 1.2
GAP_CONVERSIONS = 5.0
STREAM_KG_PER_S = 0.001  # so much runs out of an open drain only: the engine stands
TOPPED_UP_S = 20.0  # nothing has gone in for so long: the topping up is over


class Service:
    """One service, fed sample by sample in time order.

    Args:
        job: What it was told beforehand.
    """

    def __init__(self, job: Job) -> None:
        self.job = job
        self.t: float | None = None
        self.forecasts: list[Forecast] = []
        self._temperature = FluidTemperature(job.pan_sensor, job.procedure.window_C)
        self._story = Story(job, StepLog(job.procedure), self._temperature, FluidDensity(job.fluid))
        self._story.on_step = self._step_began
        self._cooling = Cooling(self._story)
        self._pan: tuple[float, float] | None = None
        self._told = 0
        self._next_tick = self._next_forecast = float("-inf")
        self._gap_s = max(GAP_S, GAP_CONVERSIONS / job.scale.rate_Hz)
        self._reached = False
        self._target_looked: int | None = None  # at so many blocks; None: other things changed
        self._feeders: dict[type[Any], Callable[[Any], None]] = {
            PanReading: self._pan_reading,
            BoardReading: self._board_reading,
            PanFault: self._pan_fault,
            Reference: self._reference,
            AddedByHand: self._added,
            StepMark: self._mark,
        }
        self._begin(0.0)

    # --- feeding -----------------------------------------------------------------------------

    def feed(self, sample: Sample) -> list[Event]:
        """Take one sample, not earlier than the one before; return what became known by it."""
        t = sample.t
        if self.t is None:
            self._begin(t)
        elif t - self.t > self._gap_s:
            self._gap(self.t, t)
            self._target_looked = None
        self.t = t
        if isinstance(sample, ScaleCount):
            self._scale_count(sample)
        else:
            self._feeders[type(sample)](sample)
            self._target_looked = None
        if t >= self._next_tick:
            self._next_tick = t + TICK_S
            self._tick(t)
            self._target_looked = None
        events = self._story.events
        if self._told == len(events):
            return []
        new = events[self._told :]
        self._told = len(events)
        return new

    def _gap(self, t0: float, t1: float) -> None:
        """Nothing at all was recorded: the bench stood still. What ran meanwhile is unsure."""
        self._story.gaps.append((t0, t1))
        self._drain.receiving.missed(t0, t1)

    def _begin(self, t: float) -> None:
        """Set everything that begins with the first sample; until then it stands at 0."""
        job = self.job
        self._story.steps.records.clear()
        self._scale = ScaleChannel(job.scale, t)
        self._drain = DrainSide(self._story, self._scale, has_supply=job.supply_scale is not None)
        self._supply: SupplySide | None = None
        if job.supply_scale is not None:
            self._supply = SupplySide(self._story, ScaleChannel(job.supply_scale, t))
        self._pan_watch = SensorWatch(t)
        self._story.steps.begin(t)

    def _scale_count(self, sample: ScaleCount) -> None:
        if not sample.is_supply:
            self._hear(self._scale, "scale", sample)
            self._drain.count(sample.t, sample.count)
        elif self._supply is not None:
            self._hear(self._supply.channel, "supply", sample)
            self._supply.count(sample.t, sample.count)
        if self._reached:
            return
        # between two blocks of a fast converter nothing moves that the target depends on
        judged = self._scale.blocks + (self._supply.channel.blocks if self._supply else 0)
        if judged != self._target_looked:
            self._target_looked = judged
            self._look_for_target(sample.t)

    def _hear(self, channel: ScaleChannel, name: SensorName, sample: ScaleCount) -> None:
        watch = channel.watch
        if not watch.is_faulty and sample.t - watch.last_t < SILENT_S:  # nearly always
            if channel.is_news(sample.count):
                watch.last_t = sample.t
            return
        if watch.check(sample.t):  # silent till now, and nobody else spoke meanwhile
            self._story.emit("sensor-fault", sample.t, name)
        silent_s = watch.last_t
        if channel.is_news(sample.count) and watch.heard(sample.t):
            self._story.emit("sensor-restored", sample.t, name)
            giving = self._giving
            filled = self._story.steps.was_in(Step.REFILL, silent_s, sample.t)
            if giving is not None and filled and self._is_jugs(channel):
                giving.was_blind(silent_s, sample.t)

    def _is_jugs(self, channel: ScaleChannel) -> bool:
        return channel is (self._scale if self._supply is None else self._supply.channel)

    def _pan_reading(self, sample: PanReading) -> None:
        self._pan = (sample.t, sample.pan_C)
        self._temperature.pan(sample.t, sample.pan_C)
        if self._pan_watch.heard(sample.t):
            self._story.emit("sensor-restored", sample.t, "pan")

    def _board_reading(self, sample: BoardReading) -> None:
        self._temperature.board(sample.t, sample.board_C)
        self._story.air_C = sample.board_C

    def _pan_fault(self, sample: PanFault) -> None:
        self._temperature.pan_fault(sample.t)
        if self._pan_watch.reported():
            self._story.emit("sensor-fault", sample.t, "pan")

    def _reference(self, sample: Reference) -> None:
        self._temperature.reference(sample.t, sample.fluid_C)

    def _added(self, sample: AddedByHand) -> None:
        self._story.added_by_hand.append(Added(sample.t, sample.volume_20C_L))
        if self._story.step is Step.REFIT:
            self._story.move(FluidGoingIn(), sample.t)

    def _mark(self, sample: StepMark) -> None:
        step = Step(sample.step)
        if step is Step.WARM and self._cooling.is_meant(sample.t):
            self._cooling.begin(sample.t)
            return
        was_standing = self._cooling.is_on
        if step is Step.LEVEL and self._story.step is Step.LEVEL:
            self._story.ensure_attempt().opened(sample.t)  # said after the spill was seen
        self._story.move(Marked(step), sample.t)
        if was_standing and self.situation.is_engine_on:  # said again, where the step stays
            self._temperature.engine_started(sample.t)

    # --- every half second -------------------------------------------------------------------

    def _tick(self, t: float) -> None:
        self._check_sensors(t)
        if self._cooling.is_on:
            self._cooling.tick(t)
            return  # nothing is due at the plug, whatever the fluid cools through
        self._look_for_rise(t)
        story = self._story
        if self._cooling.is_done_again(t):
            story.move(PanRose(), t)
        if story.step in CHECK_STEPS:
            story.ensure_attempt()
        check = story.attempt
        if check is not None and story.step is not Step.CIRCULATE:
            for event in check.tick(t):
                story.emit(event, t)
        if self._forecasts_now() and t >= self._next_forecast:
            self._next_forecast = t + FORECAST_S
            if check is not None:
                check.foresee(t)
            self.forecasts.append(make_forecast(story, t))

    def _check_sensors(self, t: float) -> None:
        emit = self._story.emit
        if self._scale.watch.check(t):
            emit("sensor-fault", t, "scale")
        if self._supply is not None and self._supply.channel.watch.check(t):
            emit("sensor-fault", t, "supply")
        if self._pan_watch.check(t):
            emit("sensor-fault", t, "pan")

    def _look_for_rise(self, t: float) -> None:
        """The pan has risen for sure: warming has begun, whatever nobody said."""
        rise_s = self._temperature.rise_s
        story = self._story
        if rise_s is None or story.step.place >= Step.WARM.place:
            return
        began_s = story.steps.started_s(Step.DRAIN)
        streams = self._drain.is_running and self._drain.flow_kg_per_s(t) > STREAM_KG_PER_S
        if streams or (began_s is not None and rise_s < began_s):
            self._temperature.forget_rise()  # the clamp was put on a warm pan
            return
        if story.step in (Step.DRAIN, Step.DRAIN_PAN) and not self._drain.is_running:
            story.move(OutletShut(), self._drain.last_lift_s or rise_s)
        if story.step is Step.REFILL and story.steps.procedure.now.engine_has_run:
            rise_s = self._topped_up_s(t)
        if rise_s is not None:
            story.move(PanRose(), rise_s)

    def _topped_up_s(self, t: float) -> float | None:
        """When a filling with the engine running ended; ``None`` while it may go on."""
        story, giving = self._story, self._giving
        began_s = story.steps.started_s(Step.REFILL) or 0.0
        gone_in_s = [one.t for one in story.added_by_hand]
        if giving is not None and giving.last_loss_s is not None:
            gone_in_s.append(giving.last_loss_s)
        last_s = max(gone_in_s, default=None)
        if last_s is None or last_s < began_s or t - last_s < TOPPED_UP_S:
            return None
        return last_s

    def _forecasts_now(self) -> bool:
        """From the first sure rise after the engine start until the plug is shut."""
        story = self._story
        if story.step not in CHECK_STEPS and not (
            story.step is Step.REFILL and story.steps.procedure.now.engine_has_run
        ):
            return False
        return self._temperature.rise_s is not None or story.step in (Step.WARM, Step.LEVEL)

    @property
    def _giving(self) -> Giving | None:
        return self._drain.giving if self._supply is None else self._supply.giving

    # --- steps -------------------------------------------------------------------------------

    def _step_began(self, step: Step, t: float, was_marked: bool) -> None:
        """A step begins: tell everyone whom it concerns."""
        story = self._story
        if step in (Step.CIRCULATE, Step.WARM) and was_marked and not self._cooling.is_on:
            self._temperature.engine_started(t)
        check = story.attempt
        ends = step in (Step.SEAL, Step.DONE)
        if check is not None and (ends or (check.is_open and step in (Step.REFILL, Step.WARM))):
            check.shut(t)
        if step is Step.LEVEL and was_marked:
            story.ensure_attempt().opened(t)
        self._drain.step_began(step, t, was_marked=was_marked)

    def _look_for_target(self, t: float) -> None:
        """Whether what was added has reached the target (between two strokes at the latest)."""
        giving, story = self._giving, self._story
        if giving is None or story.step not in (Step.REFILL, Step.CIRCULATE):
            return  # the engine's start may be said while the last strokes are made
        target = story.target_20C_L
        if target is None:
            return
        per_L = story.shown_kg_per_L_20C(story.new_fluid[0])
        if giving.surely_lost_kg / per_L + story.typed_20C_L >= target:
            self._reached = True
            story.emit("refill-reached", t)

    # --- the moment ---------------------------------------------------------------------------

    @property
    def situation(self) -> Situation:
        """Where the procedure stands."""
        return self._story.steps.procedure.now

    def live(self, t: float | None = None, held: Mapping[CueName, str] | None = None) -> Live:
        """Give the figures of the moment.

        Args:
            t: Now, not before the last sample (which is the default).
            held: Cues that a gate holds back, with the gate.
        """
        now = max(self.t or 0.0, t if t is not None else self.t or 0.0)
        story, giving = self._story, self._giving
        jugs = self._scale if self._supply is None else self._supply.channel
        amounts = amounts_now(story, self._scale.calibration, giving, jugs.calibration)
        ahead = make_forecast(story, now)
        faults = self._faults()
        facts = cue_facts(
            story, self._drain, giving, reached=self._reached, faulty=bool(faults), t=now
        )
        if held:
            facts = replace(facts, held=held)
        return Live(
            t=now,
            step=story.step,
            cue=decide(facts),
            scale_kg=self._scale.latest_kg,
            drained_20C_L=amounts.drained_L,
            U_drained_20C_L=amounts.U_drained_L,
            added_20C_L=amounts.added_L,
            U_added_20C_L=amounts.U_added_L,
            target_20C_L=story.target_20C_L,
            spilled_mL=spilled_now_mL(story, story.spills, now),
            flow_mL_per_min=flow_now_mL_per_min(story, self._drain, now),
            still_to_come_mL=still_to_come_mL(story, self._drain, now),
            pan_C=self._pan[1] if self._pan else None,
            pan_age_s=now - self._pan[0] if self._pan else None,
            scale_age_s=now - self._scale.watch.last_t,
            fluid_C=ahead.fluid_C,
            U_fluid_C=ahead.U_fluid_C,
            opens_s=ahead.opens_s,
            opens_90=ahead.opens_90,
            closes_s=ahead.closes_s,
            closes_90=ahead.closes_90,
            finishes_s=ahead.finishes_s,
            p_finish_in_window=ahead.p_finish_in_window,
            cold_enough_s=self._cooling.cold_enough_s(now),
            faults=faults,
        )

    def _faults(self) -> tuple[str, ...]:
        watches = [("scale", self._scale.watch), ("pan", self._pan_watch)]
        if self._supply is not None:
            watches.append(("supply", self._supply.channel.watch))
        return tuple(name for name, watch in watches if watch.is_faulty)

    # --- answers -----------------------------------------------------------------------------

    def finish(self) -> Result:
        """What the service answers, with what is known now (call it as often as wanted)."""
        giving = self._giving
        return form_result(
            self._story,
            self._scale.calibration,
            None if self._supply is None else self._supply.channel.calibration,
            [] if giving is None else giving.finish(),
            refill_failed=giving is not None and giving.has_failed,
            forecasts=self.forecasts,
        )
