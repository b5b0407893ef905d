# SPDX-License-Identifier: Apache-2.0
"""Drawings of the flat parts: plan with overall dimensions, and a table of the holes.

Holes are told by a table of places from the middle: there are too many for arrows, and a shop that
cuts sheet reads the cutting file anyway.
"""

from collections import defaultdict
from collections.abc import Iterator

from mechanical.params import Params
from mechanical.plan import FlatPart, Hole, Point, Slot
from mechanical.sheet import SMALL, Sheet, Title, View

PAPER = (297.0, 210.0)
ROOM = (146.0, 150.0)  # for the plan
MIDDLE = (97.0, 96.0)
TABLE_LEFT = 190.0
SCALES = ((2.0, "2:1"), (1.0, "1:1"), (0.5, "1:2"), (0.2, "1:5"))


def plate_sheet(part: FlatPart, params: Params) -> Sheet:
    """Draw a flat part."""
    scale, named = fitting_scale(part.size, ROOM)
    sheet = Sheet(PAPER, f"Drawing of {part.ref}, {part.name}")
    material = f"{part.material}, {part.thickness:g} mm"
    sheet.frame(Title(part.name, part.ref, named, params.revision, params.status, material))
    view = View(MIDDLE, scale)
    _plan(sheet, part, view)
    _overall(sheet, part, view)
    _table(sheet, part, view)
    return sheet


def fitting_scale(size: Point, room: Point) -> tuple[float, str]:
    """The largest of the usual scales at which a part has room."""
    for scale, named in SCALES:
        if size[0] * scale <= room[0] + 8.0 and size[1] * scale <= room[1] + 8.0:
            return scale, named
    return SCALES[-1]


def _plan(sheet: Sheet, part: FlatPart, view: View) -> None:
    (length, width), r = part.size, part.corner_radius * view.scale
    x, y, beyond = length / 2.0, width / 2.0, 3.0 / view.scale
    (left, top), (right, bottom) = view.at(-x, y), view.at(x, -y)
    sheet.rounded_box((left, top), (right - left, bottom - top), r, 0.5)
    sheet.line([view.at(-x - beyond, 0.0), view.at(x + beyond, 0.0)], 0.13, "6 1 1 1")
    sheet.line([view.at(0.0, -y - beyond), view.at(0.0, y + beyond)], 0.13, "6 1 1 1")
    for hole in part.holes:
        sheet.circle(view.at(*hole.at), hole.diameter / 2.0 * view.scale, 0.35)
        if hole.countersink:
            sheet.circle(view.at(*hole.at), hole.countersink / 2.0 * view.scale, 0.2)
    for slot in part.slots:
        (cx, cy), (dx, dy) = slot.at, slot.size
        corner = view.at(cx - dx / 2.0, cy + dy / 2.0)
        sheet.box(corner, (dx * view.scale, dy * view.scale))


def _overall(sheet: Sheet, part: FlatPart, view: View) -> None:
    (length, width), x, y = part.size, part.size[0] / 2.0, part.size[1] / 2.0
    (left, bottom), (right, top) = view.at(-x, -y), view.at(x, y)
    sheet.across((left, right), bottom + 12.0, f"{length:g}", (bottom, bottom))
    sheet.upright((top, bottom), left - 12.0, f"{width:g}", (left, left))
    if part.corner_radius:
        r = part.corner_radius * 0.3
        tip = view.at(x - r, y - r)
        sheet.pointer(tip, (tip[0] + 6.0, tip[1] - 6.0), f"4× R{part.corner_radius:g}")


def _table(sheet: Sheet, part: FlatPart, view: View) -> None:
    sheet.text(
        (TABLE_LEFT, 14.0), f"Holes, from the middle, seen {part.seen}", height=SMALL, bold=True
    )
    y = 20.0
    for sign, (holes, words) in zip("ABCDEFGHJ", _kinds(part), strict=False):
        sheet.text((TABLE_LEFT, y), f"{sign}  {words}", height=SMALL)
        y += 4.2
        for places in symmetric([hole.at for hole in holes]):
            sheet.text((TABLE_LEFT + 6.0, y), places, height=SMALL)
            y += 4.2
        y += 1.6
        _sign(sheet, sign, holes, view)


def _kinds(part: FlatPart) -> Iterator[tuple[list[Hole | Slot], str]]:
    """Holes of one size and purpose together, then slots, with what the table says of them."""
    kinds: dict[str, list[Hole | Slot]] = defaultdict(list)
    for hole in part.holes:
        words = f"Ø{hole.diameter:g}" + (" tap" if hole.layer.startswith("TAP") else "")
        words += f", csk Ø{hole.countersink:g} 90°" if hole.countersink else ""
        kinds[f"{words}: {hole.purpose}"].append(hole)
    for slot in part.slots:
        kinds[f"{slot.size[0]:g} × {slot.size[1]:g}: {slot.purpose}"].append(slot)
    for words, found in kinds.items():
        yield found, f"{len(found)}× {words}"


def symmetric(places: list[Point]) -> list[str]:
    """Write places short: "±90, ±90" for four that mirror each other."""
    left = {(round(x, 3), round(y, 3)) for x, y in places}
    lines = []
    for x, y in sorted(left, key=lambda at: (-abs(at[0]), -abs(at[1]), at)):
        if (x, y) not in left:
            continue
        for xs, ys in (((x, -x), (y, -y)), ((x, -x), (y,)), ((x,), (y, -y)), ((x,), (y,))):
            mirrored = {(a, b) for a in xs for b in ys}
            if mirrored <= left and len(mirrored) == len(xs) * len(ys):
                left -= mirrored
                lines.append(f"{_signed(xs)}, {_signed(ys)}")
                break
    return lines


def _signed(values: tuple[float, ...]) -> str:
    value = values[0] + 0.0
    return f"±{abs(value):g}" if len(values) == 2 else f"{value:g}".replace("-", "−")


def _sign(sheet: Sheet, sign: str, holes: list[Hole | Slot], view: View) -> None:
    """Write the letter beside each hole, towards the middle.

    Above one that lies on the centre line, which would strike the letter out.
    """
    for hole in holes:
        px, py = view.at(*hole.at)
        wide = max(hole.countersink, hole.diameter) if isinstance(hole, Hole) else hole.size[0]
        if abs(hole.at[1]) * view.scale < 2.0:
            above = py - wide / 2.0 * view.scale - 0.8
            sheet.text((px, above), sign, height=SMALL, anchor="middle")
            continue
        away = wide / 2.0 * view.scale + 1.0
        right = hole.at[0] <= 0.0
        at = (px + (away if right else -away), py + 0.9)
        sheet.text(at, sign, height=SMALL, anchor="start" if right else "end")
