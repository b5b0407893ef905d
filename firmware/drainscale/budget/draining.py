"""What the core would report for so many litres: its own model, asked with made-up readings."""

from collections.abc import Sequence
from dataclasses import dataclass

from drainscale.core.result import form_result
from drainscale.core.step_log import StepLog
from drainscale.core.story import Story
from drainscale.core.weighing import Stage, Weighing
from drainscale.errors import QuantityError
from drainscale.estimation.temperature import FluidTemperature
from drainscale.procedure.steps import Step
from drainscale.quantities.buoyancy import buoyancy_factor
from drainscale.quantities.calibration import Calibration
from drainscale.quantities.density import REPORT_C, FluidDensity
from drainscale.quantities.job import Job
from drainscale.quantities.result_quantities import Amount
from drainscale.quantities.units import ML_PER_L


@dataclass(frozen=True, slots=True)
class Ran:
    """One stage of draining: a container's reading before and after, and the fluid then."""

    from_kg: float
    to_kg: float
    fluid_C: float
    u_fluid_C: float  # standard uncertainty


def drained_amount(job: Job, stages: Sequence[Ran]) -> Amount:
    """Form the drained amount as the record of a job does.

    The core's own function is asked (``drainscale.core.result.form_result``), so the budget and
    the record can't part. A reading that ends one stage and begins the next is one reading.

    Args:
        job: Fluid and calibration.
        stages: What ran, in readings of the drain scale (conventional kg).

    Raises:
        QuantityError: No stage, or a calibration or fluid that cannot be.
    """
    if not stages:
        raise QuantityError("0 stages of draining, at least 1 needed")
    fluid = FluidDensity(job.fluid)
    temperature = FluidTemperature(job.pan_sensor, job.procedure.window_C)
    story = Story(job, StepLog(job.procedure), temperature, fluid)
    for ran in stages:
        stage = Stage(Step.DRAIN, 0.0, 0.0, [Weighing(ran.from_kg, ran.to_kg)])
        stage.note_fluid(ran.fluid_C, ran.u_fluid_C, stage.gained_kg)
        story.drains.append(stage)
    drained = form_result(story, Calibration(job.scale), None, (), refill_failed=False).drained
    assert drained is not None  # there was a stage
    return drained


def shown_kg(job: Job, volume_20C_L: float, fluid_C: float) -> float:
    """What the scale shows for an amount that is ``volume_20C_L`` at 20 °C, conventional kg."""
    fluid = FluidDensity(job.fluid)
    mass_kg = volume_20C_L * fluid.density_kg_per_m3(REPORT_C) / ML_PER_L
    return mass_kg / buoyancy_factor(fluid.density_kg_per_m3(fluid_C))
