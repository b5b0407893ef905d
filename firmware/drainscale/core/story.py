"""What all parts of the core share: the job, the steps, the fluid, and what has been told."""

from collections.abc import Callable
from dataclasses import dataclass, field

from drainscale.core.events import Event, EventName, SensorName
from drainscale.core.level_check import LevelCheck
from drainscale.core.step_log import StepLog
from drainscale.core.weighing import Stage
from drainscale.estimation.temperature import FluidTemperature
from drainscale.procedure.events import PERSON_EVENTS, StepEvent
from drainscale.procedure.steps import Step
from drainscale.quantities.buoyancy import buoyancy_factor
from drainscale.quantities.density import REPORT_C, FluidDensity
from drainscale.quantities.job import Job

# the fluid where no thermometer says anything: a workshop, summer or winter
UNKNOWN_FLUID_C = 20.0
UNKNOWN_FLUID_U_C = 10.0
COLDEST_AIR_C, HOTTEST_AIR_C = -40.0, 85.0  # a board that says more is broken
NEW_FLUID_U_C = 4.0  # of a jug in a workshop against the air there

CHECK_STEPS = (Step.CIRCULATE, Step.WARM, Step.LEVEL)
EARLY_MARK_S = 10.0  # a person may say so much too early that the next step has begun


@dataclass(slots=True)
class Added:
    """Litres at 20 °C that were typed in."""

    t: float
    volume_20C_L: float


@dataclass(slots=True)
class Story:
    """The state of one service that its parts read and write."""

    job: Job
    steps: StepLog
    temperature: FluidTemperature
    fluid: FluidDensity
    events: list[Event] = field(default_factory=list)
    attempts: list[LevelCheck] = field(default_factory=list)
    drains: list[Stage] = field(default_factory=list)
    spills: list[Stage] = field(default_factory=list)
    gaps: list[tuple[float, float]] = field(default_factory=list)  # nothing was recorded
    air_C: float = UNKNOWN_FLUID_C
    added_by_hand: list[Added] = field(default_factory=list)
    on_step: Callable[[Step, float, bool], None] | None = None  # step, when, named by a person

    def move(self, event: StepEvent, t: float) -> None:
        """Apply an event to the procedure; where another step begins by it, tell everyone."""
        if self.steps.move(event, t) and self.on_step is not None:
            self.on_step(self.step, t, isinstance(event, PERSON_EVENTS))

    def is_filling(self, t: float) -> bool:
        """Whether what leaves a jug at ``t`` belongs to a filling that is known already."""
        if self.step is Step.REFILL:
            return True
        started_s = self.steps.started_s(self.step)
        is_said = self.step in (Step.CIRCULATE, Step.WARM) and self.steps.was_marked(self.step)
        return is_said and started_s is not None and t - started_s < EARLY_MARK_S

    @property
    def step(self) -> Step:
        """The present step."""
        return self.steps.step

    def emit(self, event: EventName, t: float, sensor: SensorName | None = None) -> None:
        """Tell an event."""
        self.events.append(Event(t, event, self.step, sensor))

    # --- attempts ----------------------------------------------------------------------------

    @property
    def attempt(self) -> LevelCheck | None:
        """The running attempt at the level, if there is one."""
        if self.attempts and not self.attempts[-1].is_shut:
            return self.attempts[-1]
        return None

    def ensure_attempt(self) -> LevelCheck:
        """The running attempt, or a new one."""
        running = self.attempt
        if running is None:
            running = LevelCheck(self.job.procedure, self.temperature)
            self.attempts.append(running)
        return running

    @property
    def new_fluid(self) -> tuple[float, float]:
        """Temperature of the new fluid: a jug that stood in the same workshop."""
        if not self.drains or not COLDEST_AIR_C <= self.air_C <= HOTTEST_AIR_C:
            return UNKNOWN_FLUID_C, UNKNOWN_FLUID_U_C
        return self.air_C, NEW_FLUID_U_C

    # --- the fluid ---------------------------------------------------------------------------

    def fluid_now(self, t: float) -> tuple[float, float]:
        """Temperature of the fluid and its standard uncertainty, or what is likely anyway."""
        now = self.temperature.at(t)
        return (now.fluid_C, now.u_C) if now else (UNKNOWN_FLUID_C, UNKNOWN_FLUID_U_C)

    def shown_kg_per_L(self, fluid_C: float) -> float:
        """What the scale shows for one litre of the fluid at its temperature, kg."""
        density = self.fluid.density_kg_per_m3(fluid_C)
        return density / 1000.0 / buoyancy_factor(density)

    def shown_kg_per_L_20C(self, fluid_C: float) -> float:
        """What the scale shows for an amount that is one litre at 20 °C, kg."""
        density = self.fluid.density_kg_per_m3(fluid_C)
        return self.fluid.density_kg_per_m3(REPORT_C) / 1000.0 / buoyancy_factor(density)

    @property
    def drained_20C_L(self) -> float:
        """Volume at 20 °C of all that was drained so far."""
        return sum(
            stage.gained_kg / self.shown_kg_per_L_20C(stage_fluid(stage)[0])
            for stage in self.drains
        )

    @property
    def typed_20C_L(self) -> float:
        """Litres at 20 °C that went in without being weighed."""
        return sum(one.volume_20C_L for one in self.added_by_hand)

    @property
    def target_20C_L(self) -> float | None:
        """What is to be filled in, all in all; ``None`` if nothing was drained."""
        if not self.drains:
            return None
        return self.drained_20C_L + self.job.procedure.allowance_L


def stage_fluid(stage: Stage) -> tuple[float, float]:
    """The fluid's mean temperature while a stage ran, and its standard uncertainty."""
    return stage.fluid or (UNKNOWN_FLUID_C, UNKNOWN_FLUID_U_C)
