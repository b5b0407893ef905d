"""The budget of a whole kit: what the record tells, and what its platform does beyond it.

The record's U is the core's own. By the definition of the job file its "repeatability" holds
linearity, creep and noise; what a bench file says there may be less than what a cell of that
class is allowed. Then the class counts here, term by term. What the core has no source for
(zero drift, a touching hose ...) is added. All are independent: root sum of squares.

Source:
    JCGM 100:2008, 5.1.2.
"""

from dataclasses import dataclass
from math import sqrt

from drainscale.budget.draining import Ran, drained_amount, shown_kg
from drainscale.budget.terms import CellClass, Load, terms_of, u_held_kg
from drainscale.errors import QuantityError
from drainscale.quantities.job import Job
from drainscale.quantities.measured import Measured

HELD: str = "repeatability"


@dataclass(frozen=True, slots=True)
class Way:
    """How a draining is weighed: what a bench file does not tell."""

    cell: CellClass = "c3"
    tare_kg: float = 1.2  # container and funnel
    fluid_C: float = 40.0
    u_fluid_C: float = 1.0


@dataclass(frozen=True, slots=True)
class KitBudget:
    """The uncertainty of one drained volume, told twice."""

    volume_20C_L: float
    record: Measured  # as a job's record has it: litres at the fluid's temperature
    whole: Measured  # the same litres with all that the platform does
    said_u_kg: float  # repeatability_u_kg of the bench file
    held_u_kg: float  # what the cell's class has of that, a reading
    advised_u_kg: float  # with which the record's U would hold the whole kit


def kit_budget(job: Job, volume_20C_L: float, way: Way) -> KitBudget:
    """Form the budget of a drained volume.

    Args:
        job: Fluid and calibration.
        volume_20C_L: How much is drained, litres at 20 °C.
        way: How it is weighed.

    Raises:
        QuantityError: Nothing is drained, or more than the cell carries.
    """
    load = _load(job, volume_20C_L, way)
    ran = Ran(way.tare_kg, way.tare_kg + load.net_kg, way.fluid_C, way.u_fluid_C)
    record = drained_amount(job, [ran]).volume_L
    return _joined(job, volume_20C_L, way, load, record)


def kit_budget_20C(job: Job, volume_20C_L: float, way: Way) -> KitBudget:
    """Form the same budget for the volume at 20 °C, in which the fluid's warmth cancels."""
    load = _load(job, volume_20C_L, way)
    ran = Ran(way.tare_kg, way.tare_kg + load.net_kg, way.fluid_C, way.u_fluid_C)
    record = drained_amount(job, [ran]).volume_20C_L
    return _joined(job, volume_20C_L, way, load, record)


def _load(job: Job, volume_20C_L: float, way: Way) -> Load:
    load = Load(job.scale.capacity_kg, way.tare_kg, shown_kg(job, volume_20C_L, way.fluid_C))
    if not 0.0 < load.net_kg <= load.capacity_kg - load.tare_kg:
        raise QuantityError(
            f"{volume_20C_L:g} L of this fluid are {load.net_kg:.2f} kg; with {load.tare_kg:g} kg"
            f" of tare the platform carries 0 to {load.capacity_kg - load.tare_kg:g} kg"
        )
    return load


def _joined(job: Job, volume_20C_L: float, way: Way, load: Load, record: Measured) -> KitBudget:
    L_per_kg = record.value / load.net_kg
    held_kg = u_held_kg(way.cell, load, "repeatability")
    beyond_kg = u_held_kg(way.cell, load, "")
    said_kg = sqrt(2.0) * job.scale.repeatability_u_kg
    is_too_little = held_kg > said_kg
    told = [(s.source, s.u) for s in record.shares if not (is_too_little and s.source == HELD)]
    told += [
        (term.name, term.u_kg(load) * L_per_kg)
        for term in terms_of(way.cell)
        if term.held_in != HELD or is_too_little
    ]
    return KitBudget(
        volume_20C_L,
        record,
        Measured.of_components(record.value, told),
        job.scale.repeatability_u_kg,
        held_kg / sqrt(2.0),
        sqrt(max(held_kg, said_kg) ** 2 + beyond_kg**2) / sqrt(2.0),
    )
