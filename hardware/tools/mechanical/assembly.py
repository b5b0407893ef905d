# SPDX-License-Identifier: Apache-2.0
"""A platform put together: each part in its place, z = 0 on the floor."""

from dataclasses import dataclass

from manifold3d import Manifold

from mechanical.params import Params
from mechanical.plan import base_plate, spacer, stop_places, top_plate
from mechanical.solids import cell_solid, flat_solid, lip_corner, nut_pocket, rod, union


@dataclass(frozen=True)
class PlatformParts:
    """The parts of a platform in their places."""

    feet: Manifold
    base: Manifold
    stops: Manifold
    spacers: tuple[Manifold, Manifold]  # below the fixed end, above the free end
    cell: Manifold
    top: Manifold
    lips: tuple[Manifold, ...]


@dataclass(frozen=True)
class Heights:
    """Where a platform's faces lie above the floor, mm."""

    base: float  # underside of the base
    base_top: float
    cell: float  # underside of the cell
    top: float  # underside of the top plate
    deck: float  # where the container stands
    stop: float  # tip of the stops

    @classmethod
    def of(cls, params: Params, name: str) -> "Heights":
        """Add up what lies on each other."""
        plate, fit = params.platform[name].plate, params.fit
        base_top = fit.foot_height + plate
        top = base_top + params.plate_gap(name)
        stop = top - params.platform[name].stop_gap
        return cls(fit.foot_height, base_top, base_top + fit.spacer, top, top + plate, stop)


def platform_parts(params: Params, name: str) -> PlatformParts:
    """Put a platform together."""
    at, fit, cell = Heights.of(params, name), params.fit, params.cell[name]
    refs = ("P1", "P2") if name == "drain" else ("P3", "P4")
    plate = params.platform[name].plate
    base = flat_solid(base_plate(params, name, refs[0]), countersink_below=True)
    pad = flat_solid(spacer(params))
    low = pad.translate((cell.mount, 0.0, at.base_top))
    high = pad.translate((-cell.mount, 0.0, at.cell + cell.height))
    lip = lip_corner(params, name).translate((0.0, 0.0, at.top))
    top = flat_solid(top_plate(params, name, refs[1]))
    return PlatformParts(
        union(_foot(params, foot, plate) for foot in params.platform[name].feet),
        base.translate((0.0, 0.0, at.base)),
        union(_stop(spot, at, fit.nut_M6_corners) for spot in stop_places(params, name)),
        (low, high),
        cell_solid(params, name).translate((0.0, 0.0, at.cell)),
        top.translate((0.0, 0.0, at.top)),
        tuple(lip.rotate((0.0, 0.0, 90.0 * n)) for n in range(4)),
    )


def _foot(params: Params, spot: tuple[float, float], plate: float) -> Manifold:
    fit = params.fit
    return rod(fit.foot, spot, (0.0, fit.foot_height - 3.0)) + rod(
        fit.tap_M8, spot, (0.0, fit.foot_height + plate)
    )


def _stop(spot: tuple[float, float], at: Heights, corners: float) -> Manifold:
    """A set screw through the base with its lock nut on it."""
    screw = rod(5.9, spot, (at.base + 1.0, at.stop))
    nut = nut_pocket(corners * 3.0**0.5 / 2.0, spot, (at.base_top, at.base_top + 5.0))
    return screw + nut
