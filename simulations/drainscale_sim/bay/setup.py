"""One run with every number drawn: what the world is, and what the job's file says of it."""

from dataclasses import dataclass

from drainscale.quantities.job import (
    Container,
    FluidSheet,
    Job,
    PanSensor,
    ProcedureLimits,
    ScaleSettings,
)
from drainscale_sim.bay.fluid import Fluid
from drainscale_sim.bay.heat import HeatSetup
from drainscale_sim.bay.sensors import ClampSetup, Faults, ScaleSetup
from drainscale_sim.bay.vehicle import VehicleSetup

Range = tuple[float, float]


@dataclass(frozen=True)
class Work:
    """How the technician works; ranges are drawn from anew each time.

    Args:
        reaction_s: From seeing a cue to acting on it, with clean hands.
        handling_s: A handling, such as fetching a container.
        walk_s: Between two parts of the work.
        press_s: How long the foot stays on the switch.
        habit_patience_s: Open loop: how long he lets it run in a stage of the drain.
        habit_extra_L: Open loop: how far what he fills is from the target.
        habit_opens_at: Open loop: where in the window he opens, 0 its lower limit, 1 its upper.
        habit_stays_s: Open loop: how long the plug stays open after it is thin.
        most_open_s: He shuts the plug by himself after this.
    """

    reaction_s: Range = (2.0, 8.0)
    handling_s: Range = (6.0, 15.0)
    walk_s: Range = (15.0, 60.0)
    press_s: Range = (0.15, 0.5)
    habit_patience_s: Range = (240.0, 700.0)
    habit_extra_L: Range = (-0.03, 0.03)
    habit_opens_at: Range = (-0.05, 0.5)
    habit_stays_s: Range = (20.0, 50.0)
    most_open_s: float = 600.0


@dataclass(frozen=True)
class Bench:
    """What stands around, and how it is shaken.

    Args:
        container_tare_kg: Empty drain container.
        container_L: What it holds.
        start_L: What is in it already.
        fall_m: From the outlet to the container.
        jug_L: What a jug holds.
        jug_tare_kg: Empty jug.
        has_supply_scale: A second scale for the jugs.
        pump_kg: The pump that is put into the jug.
        pump_mL_per_s: Mean flow of the pump.
        pump_shake_kg: What a stroke presses on the platform.
        knocks_per_min: Knocks and touches while a platform is loaded.
        knock_kg: Their size.
        vibration_kg: Shaking while the engine idles.
        gear_shake_kg: Shaking while it is shifted through the gears.
        lifts_in_drain: How often the container is lifted and put back in a drain stage.
        swaps_in_drain: How often another container is put under in mid-drain.
        air_kg_per_m3: Air density of the day.
    """

    container_tare_kg: float = 1.1
    container_L: float = 8.0
    start_L: float = 0.0
    fall_m: float = 0.7
    jug_L: float = 4.0
    jug_tare_kg: float = 0.25
    has_supply_scale: bool = False
    pump_kg: float = 0.5
    pump_mL_per_s: float = 30.0
    pump_shake_kg: float = 0.06
    knocks_per_min: float = 0.15
    knock_kg: Range = (0.02, 0.3)
    vibration_kg: float = 0.0004
    gear_shake_kg: float = 0.01
    lifts_in_drain: int = 0
    swaps_in_drain: int = 0
    air_kg_per_m3: float = 1.19


@dataclass(frozen=True)
class Setup:
    """One run."""

    name: str
    seed: int
    make: str
    about: str
    limits: ProcedureLimits
    fluid: Fluid
    sheet: FluidSheet
    vehicle: VehicleSetup
    heat: HeatSetup
    scale: ScaleSetup
    scale_job: ScaleSettings
    supply_job: ScaleSettings | None
    clamp: ClampSetup
    pan_job: PanSensor
    bench: Bench
    work: Work
    faults: Faults
    marks: str = "all"  # all, some, none
    added_C: float = 20.0  # of the new fluid

    @property
    def job(self) -> Job:
        """What the kit is told."""
        container = Container(self.bench.container_L, self.bench.start_L)
        return Job(
            self.limits, self.sheet, self.scale_job, self.pan_job, container, self.supply_job
        )
