# SPDX-License-Identifier: Apache-2.0
"""Solids from plain shapes, and flat parts as solids; mm, z up."""

from collections.abc import Iterable, Sequence

from manifold3d import CrossSection, Manifold

from mechanical.params import Params
from mechanical.plan import FlatPart, Point

ROUND = 36  # sides of a circle
SMALL = 9.0  # narrower ones need half as many
THROUGH = 0.1  # cuts reach this far beyond the face they leave


def block(size: tuple[float, float, float], at: tuple[float, float, float]) -> Manifold:
    """A block, in the middle of ``at`` in x and y, standing on it in z."""
    corner = (at[0] - size[0] / 2.0, at[1] - size[1] / 2.0, at[2])
    return Manifold.cube(size).translate(corner)


def rod(diameter: float, at: Point, z: tuple[float, float], top: float | None = None) -> Manifold:
    """A cylinder along z between two heights; ``top`` is another diameter at its upper end."""
    upper = diameter if top is None else top
    low, high = z
    sides = ROUND if diameter > SMALL else ROUND // 2
    solid = Manifold.cylinder(high - low, diameter / 2.0, upper / 2.0, sides)
    return solid.translate((at[0], at[1], low))


def nut_pocket(across_flats: float, at: Point, z: tuple[float, float]) -> Manifold:
    """A hexagon along z between two heights."""
    corner = across_flats / 3.0**0.5
    return Manifold.cylinder(z[1] - z[0], corner, corner, 6).translate((at[0], at[1], z[0]))


def rounded(size: Point, radius: float) -> CrossSection:
    """A rectangle with round corners, in the middle of its axes."""
    if radius == 0.0:
        return CrossSection.square(size, True)
    core = CrossSection.square((size[0] - 2.0 * radius, size[1] - 2.0 * radius), True)
    return core.offset(radius, circular_segments=ROUND)


def union(parts: Iterable[Manifold]) -> Manifold:
    """All of them as one."""
    total = Manifold()
    for part in parts:
        total += part
    return total


def flat_solid(part: FlatPart, *, countersink_below: bool = False) -> Manifold:
    """A flat part as it is after cutting, drilling and countersinking; it stands on z = 0.

    Args:
        part: Outline and holes.
        countersink_below: The countersinks are on the lower side.
    """
    solid = rounded(part.size, part.corner_radius).extrude(part.thickness)
    through = (-THROUGH, part.thickness + THROUGH)
    cuts = [rod(hole.diameter, hole.at, through) for hole in part.holes]
    cuts += [block((*slot.size, part.thickness + 1.0), (*slot.at, -0.5)) for slot in part.slots]
    for hole in part.holes:
        if hole.countersink:
            cuts.append(_cone(hole.at, hole.diameter, hole.countersink, part, countersink_below))
    return solid - union(cuts)


def _cone(at: Point, hole: float, head: float, part: FlatPart, below: bool) -> Manifold:
    deep = (head - hole) / 2.0  # 90 degrees
    if below:
        return rod(head, at, (0.0, deep), hole)
    return rod(hole, at, (part.thickness - deep, part.thickness), head)


def lip_corner(params: Params, name: str) -> Manifold:
    """One corner of a platform's drip lip, at the corner of +x and +y; z = 0 is its upper face.

    A flange under the top plate, screwed to it, and a skirt whose outer face is the plate's edge;
    the skirt's lower edge is sharp outwards, so that oil drips off there and not inwards.
    """
    lip, top = params.lip, params.platform[name].top
    outer = rounded((top, top), params.plate.corner_radius)
    solid = outer.extrude(lip.height).translate((0.0, 0.0, -lip.height))
    inside = top - 2.0 * lip.wall
    skirt_hole = CrossSection.square((inside, inside), True)
    below = lip.height - lip.flange_thickness
    solid -= skirt_hole.extrude(below).translate((0.0, 0.0, -lip.height - THROUGH))
    solid -= skirt_hole.extrude(below + THROUGH).translate((0.0, 0.0, -lip.height))
    opening = top - 2.0 * lip.flange
    solid -= block((opening, opening, lip.height + 1.0), (0.0, 0.0, -lip.height - 0.5))
    solid -= _drip_edge(inside, lip.wall, lip.height)
    half = top / 2.0
    quarter = block((half, half, lip.height), (half / 2.0, half / 2.0, -lip.height))
    solid = quarter.translate((lip.joint / 2.0, lip.joint / 2.0, 0.0)) ^ solid
    return solid - union(_screw_cuts(params, half))


def _drip_edge(inside: float, wall: float, height: float) -> Manifold:
    """What is taken off inside so that the wall ends in an edge; as high as the wall is thick."""
    wide = inside + 2.0 * wall * 0.7
    cone = CrossSection.square((wide, wide), True)
    scale = inside / wide
    return cone.extrude(wall, 0, 0.0, (scale, scale)).translate((0.0, 0.0, -height))


def _screw_cuts(params: Params, half: float) -> Sequence[Manifold]:
    lip, inset = params.lip, half - params.lip.screw_inset
    places = [(half * share, inset) for share in (0.25, 0.75)]
    places += [(y, x) for x, y in places]
    low = -lip.flange_thickness
    cuts = [rod(params.fit.clear_M4, at, (low - THROUGH, THROUGH)) for at in places]
    return cuts + [nut_pocket(7.2, at, (low - THROUGH, low + 2.0)) for at in places]


def cell_solid(params: Params, name: str) -> Manifold:
    """The load cell as a plain beam, along x, standing on z = 0; for figures and fit only."""
    cell = params.cell[name]
    beam = block((cell.length, cell.width, cell.height), (0.0, 0.0, 0.0))
    window = Manifold.cylinder(cell.width + 2.0, cell.height * 0.32, -1.0, ROUND)
    window = window.rotate((90.0, 0.0, 0.0)).translate((0.0, cell.width / 2.0 + 1.0, 0.0))
    eyes = [window.translate((x, 0.0, cell.height / 2.0)) for x in (-10.0, 10.0)]
    pins = []
    for side in (-1.0, 1.0):
        for n in (-0.5, 0.5):
            at = (side * cell.mount + n * cell.hole_pitch, 0.0)
            pins.append(rod(cell.thread * 0.85, at, (-THROUGH, cell.height + THROUGH)))
    return beam - union([*eyes, *pins])
