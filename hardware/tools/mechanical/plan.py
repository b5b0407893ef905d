# SPDX-License-Identifier: Apache-2.0
"""Flat parts as outline and holes: the one source of cutting files, solids and drawings."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import product

from mechanical.params import PLATFORMS, Params

Point = tuple[float, float]


@dataclass(frozen=True)
class Hole:
    """A round hole.

    Attributes:
        at: Its middle, mm.
        diameter: As it is cut or drilled, mm.
        purpose: What it is for, in a few words: holes of one purpose and size are noted once.
        layer: Of the cutting file: CUT, or TAP_M6 ... where a thread comes in afterwards.
        countersink: Diameter of the countersink on the upper side; 0 for none.
    """

    at: Point
    diameter: float
    purpose: str
    layer: str = "CUT"
    countersink: float = 0.0


@dataclass(frozen=True)
class Slot:
    """A slot with square ends, for a cable tie."""

    at: Point
    size: Point
    purpose: str


@dataclass(frozen=True)
class FlatPart:
    """A part that is cut from sheet: rectangle with round corners, in the middle of its axes."""

    ref: str
    name: str
    size: Point
    thickness: float
    corner_radius: float
    material: str
    holes: tuple[Hole, ...]
    slots: tuple[Slot, ...] = field(default=())
    seen: str = "from above"


SHEET = "aluminium sheet EN AW-5754"


def stop_places(params: Params, name: str) -> list[Point]:
    """Where the four overload stops stand."""
    at = params.platform[name].stop
    return [(sx * at, sy * at) for sx, sy in product((-1.0, 1.0), repeat=2)]


def cell_holes(params: Params, name: str, side: float) -> list[Point]:
    """Middle of the two holes at one end of the load cell; ``side`` is -1 (free) or +1 (fixed)."""
    cell = params.cell[name]
    half = cell.hole_pitch / 2.0
    return [(side * cell.mount - half, 0.0), (side * cell.mount + half, 0.0)]


def lip_screws(params: Params, name: str) -> list[Point]:
    """Where the lip is screwed to the top plate: two a leg of each corner."""
    half = params.platform[name].top / 2.0
    inset = half - params.lip.screw_inset
    along = (half * 0.25, half * 0.75)
    places: list[Point] = []
    for sign, step, edge in product((-1.0, 1.0), along, (-1.0, 1.0)):
        places += [(sign * step, edge * inset), (edge * inset, sign * step)]
    return places


def base_plate(params: Params, name: str, ref: str) -> FlatPart:
    """The plate on the floor: fixed end of the cell, stops, feet, cable clamp."""
    platform, fit = params.platform[name], params.fit
    holes = [
        *_cell_screws(params, cell_holes(params, name, +1.0), "fixed end of the cell, from below"),
        *(Hole(at, fit.tap_M6, "stop, M6", "TAP_M6") for at in stop_places(params, name)),
        *(Hole(at, fit.tap_M8, "foot, M8", "TAP_M8") for at in platform.feet),
        _countersunk_M4(params, platform.cable_clamp, "cable clamp, from below"),
    ]
    side = params.base_side(name)
    return FlatPart(
        ref, f"{platform.title}, base", (side, side), platform.plate,
        params.plate.corner_radius, SHEET, tuple(holes),
    )  # fmt: skip


def top_plate(params: Params, name: str, ref: str) -> FlatPart:
    """The plate under the container: free end of the cell, screws of the lip."""
    platform = params.platform[name]
    holes = [
        *_cell_screws(params, cell_holes(params, name, -1.0), "free end of the cell, from above"),
        *(_countersunk_M4(params, at, "lip, from above") for at in lip_screws(params, name)),
    ]
    return FlatPart(
        ref, f"{platform.title}, top", (platform.top, platform.top), platform.plate,
        params.plate.corner_radius, SHEET, tuple(holes),
    )  # fmt: skip


def _cell_screws(params: Params, places: list[Point], purpose: str) -> list[Hole]:
    fit = params.fit
    return [Hole(at, fit.clear_M6, purpose, "CUT", fit.countersink_M6) for at in places]


def _countersunk_M4(params: Params, at: Point, purpose: str) -> Hole:
    return Hole(at, params.fit.clear_M4, purpose, "CUT", params.fit.countersink_M4)


def spacer(params: Params) -> FlatPart:
    """What lies between cell and plate, so that the beam clears both."""
    cell = params.cell["drain"]
    half = cell.hole_pitch / 2.0
    holes = tuple(Hole((x, 0.0), params.fit.clear_M6, "cell, M6") for x in (-half, half))
    size = (params.fit.spacer_length, cell.width)
    return FlatPart("P5", "spacer", size, params.fit.spacer, 2.0, SHEET, holes)


def box_tray(params: Params) -> FlatPart:
    """The plate in the control box that carries computer, converters and carrier."""
    box = params.control_box
    (length, width, thickness), inset = box.tray, box.tray_hole_inset
    corners = _around((0.0, 0.0), (length / 2.0 - inset, width / 2.0 - inset))
    holes = [Hole(at, params.fit.clear_M4, "to the enclosure, M4") for at in corners]
    half_x, half_y = (side / 2.0 - box.carrier_hole_inset for side in box.carrier)
    carrier = _around(box.carrier_at, (half_x, half_y))
    holes += [Hole(at, params.fit.clear_M3, "carrier X5, M3") for at in carrier]
    (pitch_x, pitch_y), (cx, cy) = box.computer_holes, box.computer_at
    columns = (cx - pitch_x / 2.0, cx - pitch_x / 2.0 + box.computer_zero_row, cx + pitch_x / 2.0)
    holes += [
        Hole((column, cy + sy * pitch_y / 2.0), box.computer_hole, "computer A1, M2.5")
        for column, sy in product(columns, (-1.0, 1.0))
    ]
    places = product(box.tie_columns, box.tie_rows)
    slots = tuple(Slot(at, box.tie_slot, "cable tie, for A2 and A3") for at in places)
    return FlatPart(
        "P10", "control box, tray", (length, width), thickness, 4.0,
        "any rigid insulating sheet", tuple(holes), slots,
    )  # fmt: skip


def _around(middle: Point, half: Point) -> list[Point]:
    """The four corners of a rectangle."""
    signs = product((-1.0, 1.0), repeat=2)
    return [(middle[0] + sx * half[0], middle[1] + sy * half[1]) for sx, sy in signs]


def box_wall(params: Params) -> FlatPart:
    """The wall of the control box that looks down: a drilling plan, seen from outside."""
    box = params.control_box
    length, _, height = box.inside
    first = -length / 2.0 + box.wall_inset
    pitch = (length - 2.0 * box.wall_inset) / (len(box.openings) - 1)
    holes = tuple(
        Hole((first + n * pitch, 0.0), opening.diameter, f"{opening.ref}, {opening.what}")
        for n, opening in enumerate(box.openings)
    )
    return FlatPart(
        "P11", "control box, drilling plan of a wall", (length, height), box.wall, 0.0,
        "the bought enclosure", holes, seen="from outside",
    )  # fmt: skip


def flat_parts(params: Params) -> Iterator[FlatPart]:
    """All flat parts, by their references."""
    refs = iter((("P1", "P2"), ("P3", "P4")))
    for name in PLATFORMS:
        base, top = next(refs)
        yield base_plate(params, name, base)
        yield top_plate(params, name, top)
    yield spacer(params)
    yield box_tray(params)
    yield box_wall(params)
