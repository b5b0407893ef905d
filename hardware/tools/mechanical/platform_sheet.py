# SPDX-License-Identifier: Apache-2.0
"""The drawing of a platform put together: side view, what lies on what, and the stop's gap."""

from dataclasses import replace

from manifold3d import Manifold

from mechanical.assembly import Heights, platform_parts
from mechanical.params import Params
from mechanical.plan import base_plate, top_plate
from mechanical.plate_sheets import PAPER
from mechanical.sheet import SMALL, Sheet, Title, View
from mechanical.solids import flat_solid
from mechanical.view import FRONT, visible_lines

REFS = {"drain": ("P1", "P2", "P6", "LC1"), "supply": ("P3", "P4", "P7", "LC2")}


def platform_sheet(params: Params, name: str) -> Sheet:
    """Draw a platform from the side, without the lip in front, and the gap beside it."""
    platform = params.platform[name]
    base, top, lip, cell = REFS[name]
    title = f"{platform.title}, put together"
    sheet = Sheet(PAPER, f"Drawing of the {title}")
    sheet.frame(Title(title, f"{base} to {lip}", "1:2", params.revision, params.status))
    view = View((97.0, 84.0), 0.5)
    parts = platform_parts(params, name)
    solids = [parts.feet, parts.stops, *parts.spacers, parts.cell, *_plain_plates(params, name)]
    sheet.lines(view.paths(visible_lines(solids, FRONT)))
    _lip_ends(sheet, params, name, view)
    _heights(sheet, params, name, view)
    at, half = Heights.of(params, name), platform.top / 2.0
    mount = params.cell[name].mount
    low = view.at(0.0, 0.0)[1]
    for tip, words, spot in (
        ((-half * 0.6, at.deck - 2.0), f"{top} top", (40.0, 38.0)),
        ((-mount, at.top - 1.5), "P5 spacer, free end", (62.0, 30.0)),
        ((20.0, at.cell + 10.0), f"{cell} load cell", (126.0, 30.0)),
        ((half - 1.5, at.top - 9.0), f"{lip} lip corner, 4×", (150.0, 38.0)),
        (
            (mount - 10.0, at.base_top + 2.0),
            "P5 spacer, fixed end",
            (view.at(30.0, 0)[0], low + 30.0),
        ),
        (
            (-platform.stop, at.base_top + 14.0),
            "stop, M6",
            (view.at(12.0 - platform.stop, 0)[0], low + 22.0),
        ),
        (
            (-half * 0.1, at.base + 3.0),
            f"{base} base",
            (view.at(5.0 - half * 0.1, 0)[0], low + 14.0),
        ),
    ):
        sheet.pointer(view.at(*tip), spot, words)
    _gap(sheet, params, name)
    return sheet


def _plain_plates(params: Params, name: str) -> tuple[Manifold, Manifold]:
    """Both plates without holes: from the side, a hole in the edge of a face is a stray dash."""
    at, (base, top, *_) = Heights.of(params, name), REFS[name]
    plain = [
        flat_solid(replace(part, holes=()))
        for part in (base_plate(params, name, base), top_plate(params, name, top))
    ]
    return plain[0].translate((0, 0, at.base)), plain[1].translate((0, 0, at.top))


def _lip_ends(sheet: Sheet, params: Params, name: str, view: View) -> None:
    """The lip cut open at both ends; all of it in front would hide the rest."""
    lip, at = params.lip, Heights.of(params, name)
    half = params.platform[name].top / 2.0
    for side in (-1.0, 1.0):
        shape = [
            (half, 0.0), (half, -lip.height), (half - lip.wall, -lip.height + lip.wall),
            (half - lip.wall, -lip.flange_thickness), (half - lip.flange, -lip.flange_thickness),
            (half - lip.flange, 0.0),
        ]  # fmt: skip
        sheet.area([view.at(side * x, at.top + z) for x, z in shape], "#ccc", 0.25)


def _heights(sheet: Sheet, params: Params, name: str, view: View) -> None:
    at, half = Heights.of(params, name), params.platform[name].top / 2.0
    left = view.at(-half, 0.0)[0]
    sheet.upright(
        (view.at(0, at.deck)[1], view.at(0, 0)[1]), left - 8.0, f"{at.deck:g}", (left, left)
    )
    low = view.at(0.0, 0.0)[1]
    base = params.base_side(name) / 2.0
    (x0, _), (x1, _) = view.at(-base, 0.0), view.at(base, 0.0)
    sheet.across((x0, x1), low + 42.0, f"{2 * base:g} base", (low, low))
    (x0, _), (x1, _) = view.at(-half, 0.0), view.at(half, 0.0)
    sheet.across((x0, x1), low + 52.0, f"{2 * half:g} top", (low, low))


def _gap(sheet: Sheet, params: Params, name: str) -> None:
    """The stop under the top plate, four times as large as it is; the gap not to scale."""
    view, gap = View((238.0, 66.0), 3.0), 2.2
    sheet.text((190.0, 14.0), "Stop, 3:1; the gap is drawn wider", height=SMALL, bold=True)
    sheet.area([view.at(x, y) for x, y in ((-12, 0), (12, 0), (12, 8), (-12, 8))], "#ddd")
    sheet.area([view.at(x, y) for x, y in ((-3, -16), (3, -16), (3, -gap), (-3, -gap))], "#fff")
    sheet.area(
        [view.at(x, y) for x, y in ((-5.8, -16), (5.8, -16), (5.8, -11), (-5.8, -11))], "#fff"
    )
    sheet.area([view.at(x, y) for x, y in ((-12, -16), (12, -16), (12, -21), (-12, -21))], "#ddd")
    gap_mm, plus = params.platform[name].stop_gap, params.fit.stop_gap_plus
    words = f"{gap_mm:g} +{plus:g} −0: a feeler of {gap_mm:g} goes, {gap_mm + plus:g} does not"
    (x, upper), (_, lower) = view.at(-3.0, 0.0), view.at(-3.0, -gap)
    sheet.upright((upper, lower), x - 12.0, "gap", (x, x))
    sheet.text((190.0, 150.0), f"Gap, all four: {words}.", height=SMALL)
    sheet.text((190.0, 155.0), "Platform empty. Lock the nut and measure again.", height=SMALL)
    torque = params.cell[name].tightening_Nm
    sheet.text(
        (190.0, 160.0), f"Screws of the cell: M6, {torque:g} Nm or as its sheet says.", height=SMALL
    )
    sheet.text(view.at(13.0, 3.0), "top", height=SMALL)
    sheet.text(view.at(13.0, -20.0), "base", height=SMALL)
    sheet.text(view.at(7.0, -14.5), "lock nut", height=SMALL)
