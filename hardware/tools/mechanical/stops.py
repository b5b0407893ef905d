# SPDX-License-Identifier: Apache-2.0
"""Do the overload stops do their work: clear in use, touching before the load cell is harmed?

The gap at a stop closes by four movements: the cell goes down under its load and tilts under one
that stands beside its mount, the top plate bends, and the base bends under the cell's foot. The
plates by finite elements, the cell by the figures of ``params.toml``. All mm, N.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from mechanical.bending import RingPlate
from mechanical.params import STANDARD_GRAVITY, Params, read_params
from mechanical.plan import Point, stop_places
from mechanical.plate_elements import ElementPlate, Vector

THIRD = 1.0 / 3.0  # of the largest load, on a quarter of the platform: OIML R 76-1:2006, 3.6.2
OFF_CENTRE = 35.0  # along both sides: a container 50 mm beside the middle, towards a corner
_N_PER_Nmm = 1e-3  # radians per N m to radians per N mm


@dataclass(frozen=True)
class Placed:
    """A load on the platform: its middle and the radius of the circle it stands on."""

    kg: float
    at: Point = (0.0, 0.0)
    radius: float = 0.0


class PlatformBending:
    """One platform's plates, ready to be loaded.

    Args:
        params: All dimensions.
        name: Which platform.
    """

    def __init__(self, params: Params, name: str) -> None:
        self.params, self.name = params, name
        self.platform, self.cell = params.platform[name], params.cell[name]
        plate = params.plate
        youngs = plate.youngs_GPa * 1e3
        thick = self.platform.plate
        self._top = ElementPlate(self.platform.top, thick, youngs, plate.poisson)
        self._base = ElementPlate(params.base_side(name), thick, youngs, plate.poisson)

    def closes(self, placed: Placed) -> dict[Point, float]:
        """How much of the gap at each stop a load takes, mm."""
        return self.closes_each([placed])[0]

    def closes_each(self, loads: Sequence[Placed]) -> list[dict[Point, float]]:
        """The same for several loads, each by itself: the plates are solved only once."""
        tops, bases = self._top_plate(loads), self._base_plate(loads)
        return [self._sum(*one) for one in zip(loads, tops, bases, strict=True)]

    def _sum(
        self, placed: Placed, top: dict[Point, float], base: dict[Point, float]
    ) -> dict[Point, float]:
        rigid = self._cell(placed)
        return {at: rigid(at) + top[at] + base[at] for at in stop_places(self.params, self.name)}

    def _cell(self, placed: Placed) -> Callable[[Point], float]:
        force = placed.kg * STANDARD_GRAVITY
        down = self.cell.deflection * placed.kg / self.cell.capacity_kg
        mount = -self.cell.mount
        pitch = force * (placed.at[0] - mount) * self.cell.pitch_rad_per_Nm * _N_PER_Nmm
        roll = force * placed.at[1] * self.cell.roll_rad_per_Nm * _N_PER_Nmm
        return lambda at: down + pitch * (at[0] - mount) + roll * at[1]

    def _mounted(self, plate: ElementPlate, side: float) -> list[int]:
        """The nodes that a spacer holds flat."""
        half_x = self.params.fit.spacer_length / 2.0
        x, half_y = side * self.cell.mount, self.cell.width / 2.0
        return plate.within((x - half_x, x + half_x), (-half_y, half_y))

    def _top_plate(self, loads: Sequence[Placed]) -> list[dict[Point, float]]:
        plate = self._top
        held = [3 * node + k for node in self._mounted(plate, -1.0) for k in range(3)]
        forces = []
        for placed in loads:
            nodes = plate.ring(placed.at, placed.radius) or [plate.nearest(*placed.at)]
            forces.append(plate.load(nodes, placed.kg * STANDARD_GRAVITY))
        moved = plate.solve(np.column_stack(forces), held)
        return [self._at_stops(plate, column) for column in moved.T]

    def _base_plate(self, loads: Sequence[Placed]) -> list[dict[Point, float]]:
        """How far the cell's foot takes the top plate down more than the stops go down."""
        plate = self._base
        nodes = self._mounted(plate, +1.0)
        x = np.array([plate.place(node)[0] for node in nodes]) - self.cell.mount
        y = np.array([plate.place(node)[1] for node in nodes])
        forces = []
        for placed in loads:
            force = placed.kg * STANDARD_GRAVITY
            about_y, about_x = force * (placed.at[0] - self.cell.mount), force * placed.at[1]
            column = plate.load(nodes, 0.0)
            column[[3 * node for node in nodes]] = (
                force / len(nodes) + about_y * x / (x @ x) + about_x * y / (y @ y)
            )
            forces.append(column)
        held = [3 * plate.nearest(*foot) for foot in self.platform.feet]
        closed = []
        for column in plate.solve(np.column_stack(forces), held).T:
            flat = _plane(x, y, column[[3 * node for node in nodes]])
            down = self._at_stops(plate, column)
            closed.append(
                {at: float(flat @ (1.0, at[0] - self.cell.mount, at[1])) - down[at] for at in down}
            )
        return closed

    def _at_stops(self, plate: ElementPlate, moved: Vector) -> dict[Point, float]:
        places = stop_places(self.params, self.name)
        return {at: float(moved[3 * plate.nearest(*at)]) for at in places}


def _plane(x: Vector, y: Vector, z: Vector) -> Vector:
    """The plane through the foot of the cell: height, slope along x and along y."""
    return np.asarray(np.linalg.lstsq(np.column_stack([np.ones(len(x)), x, y]), z, rcond=None)[0])


@dataclass(frozen=True)
class StopCheck:
    """What the mechanics sheet says of one platform."""

    title: str
    gap: float
    widest: float  # that its tolerance allows
    touches_kg: float  # over the cell's mount, where the cell goes down most
    touches_late_kg: float  # the same with the widest gap
    safe_kg: float
    clear: dict[str, float]  # what is left of the gap at the nearest stop, by load
    top_deflection: float  # under the cell's capacity, at the foot, by the handbook's ring plate
    top_stress_MPa: float  # the same, where the cell is at its safe load
    yield_MPa: float


@cache
def check_stops(name: str) -> StopCheck:
    """Work out one platform of the file."""
    params = read_params()
    bending = PlatformBending(params, name)
    platform, cell = params.platform[name], params.cell[name]
    radius, quarter = platform.container / 2.0, platform.top / 4.0
    loads = {
        f"{platform.working_kg:g} kg in the middle": Placed(platform.working_kg, radius=radius),
        f"{platform.working_kg:g} kg, 50 mm off towards a corner": Placed(
            platform.working_kg, (OFF_CENTRE, OFF_CENTRE), radius
        ),
        f"{platform.working_kg * THIRD:g} kg on the quarter that gives most": Placed(
            platform.working_kg * THIRD, (quarter, quarter)
        ),
    }
    gap, widest = platform.stop_gap, platform.stop_gap + params.fit.stop_gap_plus
    closed = bending.closes_each(list(loads.values()))
    clear = {what: gap - max(one.values()) for what, one in zip(loads, closed, strict=True)}
    ring = top_ring(params, name)
    force = cell.capacity_kg * STANDARD_GRAVITY
    moment = force * cell.mount
    return StopCheck(
        platform.title, gap, widest,
        cell.capacity_kg * gap / cell.deflection, cell.capacity_kg * widest / cell.deflection,
        cell.capacity_kg * cell.safe_load, clear,
        ring.deflection(force) + ring.moment_deflection(moment),
        (ring.stress_MPa(force) + ring.moment_stress_MPa(moment)) * cell.safe_load,
        params.plate.yield_MPa,
    )  # fmt: skip


def top_ring(params: Params, name: str) -> RingPlate:
    """The top plate as the handbook's ring: clamped at the spacer, loaded by a container's foot.

    The clamp is the circle inside the spacer, which is on the safe side. The load has its middle
    beside the mount: a force in the middle of the ring and a moment about it.
    """
    platform, cell = params.platform[name], params.cell[name]
    inner = min(cell.width, params.fit.spacer_length) / 2.0
    youngs = params.plate.youngs_GPa * 1e3
    outer = platform.container / 2.0
    return RingPlate(inner, outer, platform.plate, youngs, params.plate.poisson)
