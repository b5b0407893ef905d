"""Five kits to compare before one buys: ``kits.toml`` as jobs that can be budgeted."""

from functools import cache
from importlib.resources import files
from typing import Literal

import msgspec

from drainscale.budget.kit import KitBudget, Way, kit_budget_20C
from drainscale.budget.terms import CellClass
from drainscale.quantities.job import (
    Container,
    FluidSheet,
    Job,
    PanSensor,
    ProcedureLimits,
    ScaleSettings,
)

DENSITY_20C_KG_PER_M3 = 850.0
CAPACITY_KG = 20.0
SPAN_KG = 10.0  # the one weight of the calibration line


class Kit(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One way to build and calibrate; relative standard uncertainties."""

    name: str
    says: str
    cell: CellClass
    span_u: float
    density_u: float

    @property
    def job(self) -> Job:
        """A job on such a kit: oil of 850 kg/m3 at 20 °C; only fluid and scale matter here."""
        u_density = self.density_u * DENSITY_20C_KG_PER_M3
        return Job(
            ProcedureLimits("standpipe", (35.0, 45.0), 0.5, 80.0, 5.0),
            FluidSheet(DENSITY_20C_KG_PER_M3, 20.0, u_density),
            ScaleSettings(
                CAPACITY_KG, 10.0, (0.0, SPAN_KG), (0.0, 2.1e6), self.span_u * SPAN_KG, 0.0
            ),
            PanSensor(0.87, 0.05, 20.0, 10.0, 1.5),
            Container(12.0),
        )

    def budget(self, volume_20C_L: float) -> KitBudget:
        """Budget of a volume at 20 °C, drained into the kit's container."""
        return kit_budget_20C(self.job, volume_20C_L, Way(self.cell, fluid_C=20.0))


class _Table(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    format: Literal[1]
    kit: tuple[Kit, ...]


@cache
def all_kits() -> tuple[Kit, ...]:
    """Read the table that comes with the kit."""
    text = files("drainscale.budget").joinpath("kits.toml").read_bytes()
    return msgspec.toml.decode(text, type=_Table).kit
