# SPDX-License-Identifier: Apache-2.0
"""Cutting files: DXF in millimetres, true circles and arcs, a layer for each kind of work."""

import io
import math

import ezdxf
from ezdxf import units
from ezdxf.document import Drawing
from ezdxf.filemanagement import new, read
from ezdxf.layouts.layout import Modelspace

from mechanical.plan import FlatPart, Slot

# colours of the index palette: what a cutting shop expects to tell layers apart
LAYERS = {"CUT": 7, "TAP_M6": 1, "TAP_M8": 5, "COUNTERSINK": 3, "NOTE": 8}
_BULGE = math.tan(math.radians(90.0) / 4.0)  # a quarter circle


def dxf_text(part: FlatPart, revision: str, status: str) -> str:
    """Write a flat part as DXF R2010.

    Args:
        part: Outline and holes.
        revision: Goes into the note.
        status: The same.
    """
    # no time of writing in the file; the package hands its options on without saying so
    ezdxf.options.write_fixed_meta_data_for_testing = True  # type: ignore[attr-defined]
    document = new("R2010")
    document.units = units.MM
    document.header["$MEASUREMENT"] = 1
    for name, colour in LAYERS.items():
        document.layers.add(name, color=colour)
    space = document.modelspace()
    _outline(space, part)
    for hole in part.holes:
        space.add_circle(hole.at, hole.diameter / 2.0, dxfattribs={"layer": hole.layer})
        if hole.countersink:
            attributes = {"layer": "COUNTERSINK"}
            space.add_circle(hole.at, hole.countersink / 2.0, dxfattribs=attributes)
    for slot in part.slots:
        space.add_lwpolyline(_corners(slot), close=True, dxfattribs={"layer": "CUT"})
    _note(space, part, revision, status)
    return _text(document)


def _outline(space: Modelspace, part: FlatPart) -> None:
    (length, width), r = part.size, part.corner_radius
    x, y = length / 2.0, width / 2.0
    if r == 0.0:
        corners = [(-x, -y), (x, -y), (x, y), (-x, y)]
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "CUT"})
        return
    # a bulge at the first point of each corner makes a true arc to the next point
    path = [
        (x - r, -y, _BULGE), (x, -y + r, 0.0), (x, y - r, _BULGE), (x - r, y, 0.0),
        (-x + r, y, _BULGE), (-x, y - r, 0.0), (-x, -y + r, _BULGE), (-x + r, -y, 0.0),
    ]  # fmt: skip
    space.add_lwpolyline(path, format="xyb", close=True, dxfattribs={"layer": "CUT"})


def _corners(slot: Slot) -> list[tuple[float, float]]:
    (cx, cy), (dx, dy) = slot.at, slot.size
    return [
        (cx + sx * dx / 2.0, cy + sy * dy / 2.0) for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]


def _note(space: Modelspace, part: FlatPart, revision: str, status: str) -> None:
    sides = {h.purpose.rpartition(", ")[2] for h in part.holes if h.countersink}
    lines = (
        f"{part.ref} {part.name}, rev. {revision}",
        f"{part.material}, {part.thickness:g} mm, ISO 2768-m",
        f"seen {part.seen}",
        *(f"countersinks 90 degrees, {side}" for side in sorted(sides)),
        f"{status}; CERN-OHL-P-2.0",
    )
    for n, line in enumerate(lines):
        at = (-part.size[0] / 2.0, -part.size[1] / 2.0 - 10.0 - 7.0 * n)
        space.add_text(line, height=4.0, dxfattribs={"layer": "NOTE"}).set_placement(at)


def _text(document: Drawing) -> str:
    """The file's text; its list of classes comes from a set, so it is put in order."""
    document.write(io.StringIO())  # fills the list
    classes = document.classes.classes
    document.classes.classes = dict(sorted(classes.items()))
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue()


def dxf_meaning(raw: bytes) -> object:
    """Tell what a cutting file says, whatever version of the library wrote it."""
    document = read(io.StringIO(raw.decode()))
    found: list[object] = [("units", document.units)]
    for entity in document.modelspace():
        kind, layer = entity.dxftype(), entity.dxf.layer
        if kind == "CIRCLE":
            x, y, _ = entity.dxf.center
            found.append((kind, layer, round(x, 3), round(y, 3), round(entity.dxf.radius, 3)))
        elif kind == "TEXT":
            found.append((kind, layer, entity.dxf.text))
        else:
            found.append((kind, layer, *_rounded_path(entity)))
    return found


def _rounded_path(entity: object) -> tuple[tuple[float, ...], ...]:
    points = entity.get_points("xyb")  # type: ignore[attr-defined]  # only polylines are left
    return tuple(tuple(round(value, 3) for value in point) for point in points)
