"""What a platform of this kit gets wrong by itself: the table ``terms.toml``, as numbers."""

from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from math import sqrt
from typing import Literal

import msgspec

CellClass = Literal["c3", "general"]
CELL_CLASSES: tuple[CellClass, ...] = ("c3", "general")
HeldIn = Literal["repeatability", ""]


class Term(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One cause of error of the platform, with its limit and where that is from."""

    cell: tuple[CellClass, ...]
    name: str
    held_in: HeldIn
    form: Literal["rectangular", "standard"]
    source: str
    kg: float = 0.0
    of_capacity: float = 0.0
    of_load: float = 0.0
    steps: tuple[tuple[float, float], ...] = ()
    readings: Literal[1, 2] = 1

    def u_kg(self, load: "Load") -> float:
        """Standard uncertainty that it gives to a difference of two readings, kg."""
        limit_kg = self.kg + self.of_capacity * load.capacity_kg + self.of_load * load.net_kg
        limit_kg += self._step(load) * load.capacity_kg
        spread = sqrt(3.0) if self.form == "rectangular" else 1.0
        return limit_kg / spread * sqrt(self.readings)

    def _step(self, load: "Load") -> float:
        """The limit of the step that this load stands on; beyond the last the last holds."""
        share = (load.tare_kg + load.net_kg) / load.capacity_kg
        reached = [limit for up_to, limit in self.steps if share <= up_to]
        return (reached or [limit for _, limit in self.steps[-1:]] or [0.0])[0]


class _Table(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    format: Literal[1]
    term: tuple[Term, ...]


@dataclass(frozen=True, slots=True)
class Load:
    """What stands on the platform: conventional kg."""

    capacity_kg: float  # of the cell
    tare_kg: float  # container, funnel
    net_kg: float  # what was drained


@cache
def all_terms() -> tuple[Term, ...]:
    """Read the table that comes with the kit."""
    text = files("drainscale.budget").joinpath("terms.toml").read_bytes()
    return msgspec.toml.decode(text, type=_Table).term


def terms_of(cell: CellClass) -> tuple[Term, ...]:
    """The terms of a platform on a cell of this class."""
    return tuple(term for term in all_terms() if cell in term.cell)


def u_held_kg(cell: CellClass, load: Load, held_in: HeldIn) -> float:
    """Root sum of squares of the terms that belong together, kg."""
    return sqrt(sum(t.u_kg(load) ** 2 for t in terms_of(cell) if t.held_in == held_in))
