"""Everything that the drain scale says: stages, spill, jugs (without a second scale), touches."""

from drainscale.core.container import Container
from drainscale.core.disturbances import Disturbances
from drainscale.core.giving import Giving
from drainscale.core.level_check import FAILED
from drainscale.core.receiving import HAND_S, Receiving
from drainscale.core.scale_channel import ScaleChannel
from drainscale.core.spilling import Spilling
from drainscale.core.story import CHECK_STEPS, Story
from drainscale.core.weighing import Stage
from drainscale.estimation.levels import Bin
from drainscale.estimation.onset import Onset
from drainscale.estimation.platform import Gap, Happening, Lifted, Placed, Still
from drainscale.procedure.events import (
    FlowBegan,
    FluidGoingIn,
    OutletShut,
    PlugShut,
    SecondFlowBegan,
    SpillBegan,
    WorkEnded,
)
from drainscale.procedure.steps import Step
from drainscale.quantities.viscosity import FluidViscosity

LATE_SECOND_FLOW_S = 25.0  # a mark that no second flow follows is taken at its word
DRAIN_STEPS = (Step.PREPARE, Step.DRAIN, Step.DRAIN_PAN)
WIPING_S = 60.0


class DrainSide:
    """Turns what happens on the drain scale into books, steps and events.

    Args:
        story: What the service knows.
        channel: The scale.
        has_supply: Whether the jugs stand on a scale of their own.
    """

    def __init__(self, story: Story, channel: ScaleChannel, *, has_supply: bool) -> None:
        self._story = story
        self.channel = channel
        self.receiving = Receiving(channel)
        self.giving = None if has_supply else Giving(channel)
        container = story.job.container
        self.container = Container(container.capacity_L, container.start_L)
        self.spilling: Spilling | None = None
        self._disturbances = Disturbances()
        self._container_known = False
        self.last_lift_s: float | None = None
        self._less_since_s: float | None = None  # since then something has left what stands there
        self._level_at_mark: tuple[float, float] | None = None
        self._pan_mark_s: float | None = None

    # --- samples -----------------------------------------------------------------------------

    def count(self, t: float, count: float) -> None:
        """Take a conversion of the drain scale."""
        self.channel.platform.may_be_pumped = self.giving is not None and (
            self.receiving.stage is None and bool(self._story.drains)
        )
        for happening in self.channel.add(t, count):
            self._happening(t, happening)

    def _happening(self, t: float, happening: Happening) -> None:
        if isinstance(happening, Still):
            done = self.channel.flow.still(happening)
            if done is not None:
                self._bin(t, done)
        elif isinstance(happening, Gap):
            self._gap(t, happening)
        elif isinstance(happening, Placed):
            self._placed(t, happening)
        elif isinstance(happening, Lifted):
            self._lifted(t, happening)

    def _gap(self, t: float, gap: Gap) -> None:
        self.receiving.gap(gap)
        if self.giving is not None:
            self.giving.gap(gap)
        if self._disturbances.gap(gap):
            self._story.emit("disturbed", t)

    @property
    def is_running(self) -> bool:
        """Whether a drain stage runs and its container stands there."""
        stage = self.receiving.stage
        return stage is not None and stage.ended_s is None and self.receiving.load is not None

    def flow_kg_per_s(self, t: float) -> float:
        """The present flow onto the platform (0 if none runs)."""
        return self.receiving.flow_kg_per_s(t)

    # --- loads -------------------------------------------------------------------------------

    def _placed(self, t: float, placed: Placed) -> None:
        self._story.emit("placed", t)
        is_same = self.receiving.placed(placed)
        if self.giving is not None:
            self.giving.placed(placed)
        self._note_container(placed, is_same, t)

    def _note_container(self, placed: Placed, is_same: bool | None, t: float) -> None:
        """A jug is no container; which one stands there shows when something runs."""
        per_L = self._story.shown_kg_per_L(self._story.fluid_now(t)[0])
        if not self._container_known:
            self.container.stands(placed.kg)
        elif is_same is not None:
            self.container.put_back(placed.kg, per_L, is_same=is_same)

    def _lifted(self, t: float, lifted: Lifted) -> None:
        story = self._story
        story.emit("lifted", t)
        self.last_lift_s = lifted.t
        per_L = story.shown_kg_per_L(story.fluid_now(t)[0])
        if self.receiving.stage is not None:
            self.container.lifted(per_L)
        if self._level_at_mark is not None:
            self._book_quiet_spill()
        self.receiving.lifted(lifted)
        if self.giving is not None:
            self.giving.lifted(lifted, is_refill=story.step is Step.REFILL)
        if story.step is Step.SEAL and not self._is_to_be_repeated():
            story.move(WorkEnded(), t)

    def _is_to_be_repeated(self) -> bool:
        """The last attempt failed: the container is taken away to be emptied, not for good."""
        last = self._story.attempts[-1] if self._story.attempts else None
        return last is not None and last.verdict in FAILED

    # --- flows -------------------------------------------------------------------------------

    def _bin(self, t: float, one: Bin) -> None:
        self.receiving.bin(one)
        if self.giving is not None:
            self.giving.bin(one)
            self._look_for_loss(t)
        if self.receiving.load is None:
            return
        self._look_for_flow(t)
        self._run_stage(t, one)

    def _look_for_flow(self, t: float) -> None:
        stage, story = self.receiving.stage, self._story
        if stage is None or stage.ended_s is not None:
            onset = self.receiving.find_flow() if self._may_run_anew(t) else None
            if onset is not None:
                self._flow_began(t, onset)
        elif stage.step is Step.DRAIN and self._awaits_second_flow():
            onset = self.receiving.find_second_flow(t)
            if onset is not None:
                self._start_stage(Step.DRAIN_PAN, onset)
                story.move(SecondFlowBegan(), onset.t)
                story.steps.date(Step.DRAIN_PAN, onset.t)
                story.emit("flow-started", t)

    def _may_run_anew(self, t: float) -> bool:
        """Whether a flow is looked for; soon after a plug was shut, wiping it looks like one."""
        stage, step = self.receiving.stage, self._story.step
        if step in CHECK_STEPS:
            return not self.receiving.may_be_pressed(t)
        if stage is None or stage.ended_s is None:
            return True
        return step is not Step.SEAL or t - stage.ended_s > WIPING_S

    def _awaits_second_flow(self) -> bool:
        return (
            self._story.job.procedure.level_method == "standpipe"
            and self._story.step in DRAIN_STEPS
        )

    def _flow_began(self, t: float, onset: Onset) -> None:
        story = self._story
        if story.step in DRAIN_STEPS or self._is_drain_again():
            step = self._stage_of_first_flow()
            self._start_stage(step, onset)
            story.move(FlowBegan() if step is Step.DRAIN else SecondFlowBegan(), onset.t)
            story.steps.date(step, onset.t)
            story.emit("flow-started", t)
        elif self._may_spill():
            self._spill_began(t, onset)

    def _is_drain_again(self) -> bool:
        """An outlet that was taken for shut was not."""
        story = self._story
        if story.step is not Step.REFIT or story.steps.was_marked(Step.REFIT):
            return False
        return bool(story.drains)

    def _stage_of_first_flow(self) -> Step:
        story = self._story
        if story.job.procedure.level_method == "check-plug":
            return Step.DRAIN
        if story.step is Step.DRAIN_PAN or story.drains:
            return Step.DRAIN_PAN
        return Step.DRAIN

    def _may_spill(self) -> bool:
        story = self._story
        if story.step in CHECK_STEPS:
            return True
        if story.step is Step.REFILL:
            return self.giving is None or story.steps.procedure.now.engine_has_run
        return story.step is Step.SEAL and not story.steps.was_marked(Step.SEAL)

    def _start_stage(self, step: Step, onset: Onset) -> None:
        stage = self.receiving.start(step, onset)
        self._container_runs(onset)
        (self._story.spills if step is Step.LEVEL else self._story.drains).append(stage)

    def _container_runs(self, onset: Onset) -> None:
        """Fluid runs into it: what stands there is the container, emptied or not since."""
        story = self._story
        per_L = story.shown_kg_per_L(story.fluid_now(onset.t)[0])
        if self._container_known and len(story.drains) and story.step not in DRAIN_STEPS:
            self.container.put_back(onset.tare_kg, per_L, is_same=self._is_container(onset.tare_kg))
        elif not self._container_known:
            self.container.stands(onset.tare_kg)
        self._container_known = True

    def _is_container(self, kg: float) -> bool:
        return self.container.weighs_like(kg)

    def _spill_began(self, t: float, onset: Onset) -> None:
        story = self._story
        story.move(SpillBegan(), onset.t)
        is_check = story.step in CHECK_STEPS
        self._start_stage(Step.LEVEL, onset)
        story.emit("flow-started", t)
        self._level_at_mark = None
        self.spilling = None
        if not is_check:
            return  # overflow of a fill: spilled, but no level check
        story.steps.date(Step.LEVEL, onset.t)
        check = story.ensure_attempt()
        check.spill_began(onset.t)
        viscosity = FluidViscosity.of(story.job.fluid)
        if viscosity is not None:
            low_C, high_C = story.job.procedure.window_C
            fluid_C = min(max(story.fluid_now(onset.t)[0], low_C), high_C)  # there it counts
            check.viscosity_mm2_per_s = viscosity.viscosity_mm2_per_s(fluid_C)
        assert self.receiving.stage is not None
        self.spilling = Spilling(story, self.channel, self.receiving.stage, check)

    def _run_stage(self, t: float, one: Bin) -> None:
        stage, story = self.receiving.stage, self._story
        if stage is None:
            return
        fluid_C, u_C = story.fluid_now(one.t)
        per_L = story.shown_kg_per_L(fluid_C)
        if stage.ended_s is None:
            stage.note_fluid(fluid_C, u_C, stage.gained_kg)
        self.container.reads(one.kg)
        if self.container.is_newly_full(per_L):
            story.emit("container-full", t)
        if stage.step is Step.LEVEL:
            self._run_spill(one)
            return
        limit = story.job.procedure.drip_flow_mL_per_min / 60_000.0 * per_L
        if self.receiving.follow_tail(one.t, limit):
            story.emit("dripped", t)
        self._late_second_flow(t, one)

    def _late_second_flow(self, t: float, one: Bin) -> None:
        """A mark names the pan's stage, yet no second flow stands out: cut at the mark."""
        mark_s, stage = self._pan_mark_s, self.receiving.stage
        if mark_s is None or stage is None or stage.step is not Step.DRAIN:
            return
        if t - mark_s < LATE_SECOND_FLOW_S:
            return
        self._pan_mark_s = None
        before = self.channel.flow.since(mark_s - 2.0, mark_s)
        tare = before[-1].kg if before else one.kg
        self._start_stage(Step.DRAIN_PAN, Onset(mark_s, t, tare, 0.0))
        self._story.emit("flow-started", t)

    def _run_spill(self, one: Bin) -> None:
        stage = self.receiving.stage
        if self.spilling is None or stage is None or stage.ended_s is not None:
            return
        if self.receiving.has_begun_falsely(one.t):
            self._withdraw_spill(stage)
            return
        if self.spilling.bin(one) and self._story.attempt is not None:
            ended = one.t - 3.0
            self._story.attempt.shut(ended)
            self.receiving.close(ended)
            self._story.move(PlugShut(), ended)

    def _withdraw_spill(self, stage: Stage) -> None:
        """A hand was taken for a spill; the attempt goes on without."""
        self._story.spills.remove(stage)
        self.receiving.withdraw()
        self.spilling = None
        if self._story.attempt is not None:
            self._story.attempt.spill_withdrawn()

    def _look_for_loss(self, t: float) -> None:
        """Fluid leaves what stands there: a jug, and the step is refilling."""
        giving, story = self.giving, self._story
        if giving is None:
            return
        since_s, self._less_since_s = self._less_since_s, None
        if story.is_filling(t):
            giving.is_filling()
            return
        if not giving.is_going_in or self.channel.platform.is_noisy:
            return
        self._less_since_s = since_s = t if since_s is None else since_s
        if story.step in CHECK_STEPS and t - since_s < HAND_S:
            return  # a hand may have lifted the container a little
        stage = self.receiving.stage
        if stage is not None and stage.ended_s is None and not self._load_is_new(stage.started_s):
            return
        if story.step is Step.PREPARE:
            return
        if story.step in (Step.DRAIN, Step.DRAIN_PAN) and self.last_lift_s is not None:
            story.move(OutletShut(), self.last_lift_s)
            self.receiving.close(self.last_lift_s)
        story.move(FluidGoingIn(), giving.placed_s)

    def _load_is_new(self, started_s: float) -> bool:
        load = self.receiving.load
        return load is not None and load.t > started_s

    # --- steps -------------------------------------------------------------------------------

    def step_began(self, step: Step, t: float, *, was_marked: bool) -> None:
        """Another step begins."""
        if step is Step.DRAIN_PAN and was_marked:
            self._pan_mark_s = t
        if step.place >= Step.REFIT.place:
            self._end_drain(step, t)
        if step is Step.LEVEL and was_marked and self.receiving.stage is None:
            load = self.receiving.load
            at_mark = None if load is None else (t, load.kg - self.receiving.shifted_kg)
            self._level_at_mark = at_mark
        if step in (Step.SEAL, Step.REFILL, Step.CIRCULATE, Step.WARM, Step.DONE):
            self._end_spill(t)
            self._book_quiet_spill()

    def _end_drain(self, step: Step, t: float) -> None:
        stage = self.receiving.stage
        if stage is None or stage.step is Step.LEVEL:
            return
        self.receiving.close(t)
        if step.place >= Step.REFILL.place and self._load_is_new(stage.started_s):
            self.receiving.release(is_jug=self.giving is not None and self.giving.is_going_in)

    def _end_spill(self, t: float) -> None:
        stage = self.receiving.stage
        if stage is not None and stage.step is Step.LEVEL:
            self.receiving.close(t)

    def _book_quiet_spill(self) -> None:
        """The plug was open and no flow was seen: book what the reading gained all the same."""
        at_mark, load = self._level_at_mark, self.receiving.load
        self._level_at_mark = None
        if at_mark is None or load is None or self.receiving.stage is not None:
            return
        t, from_kg = at_mark
        from_kg += self.receiving.shifted_kg
        self._story.spills.append(self.receiving.quiet_stage(t, from_kg, load.kg))
