# SPDX-License-Identifier: Apache-2.0
"""Drawings of the printed parts: views with the dimensions that matter, and how to print them."""

from collections.abc import Callable, Mapping
from itertools import pairwise

from manifold3d import Manifold

from mechanical.head_solids import lamp_heights
from mechanical.params import Params
from mechanical.plate_sheets import PAPER
from mechanical.printed import PrintedPart
from mechanical.sheet import SMALL, Point, Sheet, Title, View
from mechanical.view import (
    ABOVE,
    BELOW,
    FRONT,
    ISOMETRIC,
    SIDE,
    Camera,
    visible_lines,
)

NOTES_AT = (190.0, 14.0)


def part_sheet(part: PrintedPart, params: Params) -> Sheet:
    """Draw a printed part."""
    sheet = Sheet(PAPER, f"Drawing of {part.ref}, {part.name}")
    draw, scale = _SHEETS[part.ref]
    sheet.frame(Title(part.name, part.ref, scale, params.revision, params.status, part.material))
    draw(sheet, part.solid, params)
    return sheet


def put(sheet: Sheet, solid: Manifold, camera: Camera, origin: Point, scale: float) -> View:
    """Draw one view of a solid; return it, to place dimensions on."""
    view = View(origin, scale)
    sheet.lines(view.paths(visible_lines([solid], camera)))
    return view


def _notes(sheet: Sheet, lines: list[str]) -> None:
    x, y = NOTES_AT
    sheet.text((x, y), "Notes", height=SMALL, bold=True)
    for n, line in enumerate(lines, start=1):
        sheet.text((x, y + 5.0 * n), line, height=SMALL)


def _width(
    sheet: Sheet, view: View, x: tuple[float, float], y: float, words: str, gap: float
) -> None:
    """Dimension a width of a view, ``gap`` below (or above, if negative) the height ``y``."""
    (left, at), (right, _) = view.at(x[0], y), view.at(x[1], y)
    sheet.across((left, right), at + gap, words, (at, at))


def _height(
    sheet: Sheet, view: View, y: tuple[float, float], x: float, words: str, gap: float
) -> None:
    """Dimension a height of a view, ``gap`` left of ``x`` (or right of it, if negative)."""
    (at, low), (_, high) = view.at(x, y[0]), view.at(x, y[1])
    sheet.upright((high, low), at - gap, words, (at, at))


def _lip(name: str) -> Callable[[Sheet, Manifold, Params], None]:
    def draw(sheet: Sheet, solid: Manifold, params: Params) -> None:
        lip, half = params.lip, params.platform[name].top / 2.0
        inset, start = half - lip.screw_inset, lip.joint / 2.0
        view = put(sheet, solid, ABOVE, (28.0, 172.0), 0.9)
        _width(sheet, view, (start, half), start, f"{half - start:g}", 10.0)
        _width(sheet, view, (start, half * 0.25), half, f"{half * 0.25 - start:g}", -6.0)
        _width(sheet, view, (start, half * 0.75), half, f"{half * 0.75 - start:g}", -12.0)
        _height(sheet, view, (inset, half), start, f"{lip.screw_inset:g}", 8.0)
        tip = view.at(half * 0.25, inset)
        hole = f"4× Ø{params.fit.clear_M4:g}, nut M4 below"
        sheet.pointer(tip, (tip[0] + 6.0, tip[1] + 12.0), hole)
        _lip_profile(sheet, params, View((252.0, 88.0), 3.0))
        _notes(
            sheet,
            [
                "Four a platform. Print with the flange on the bed.",
                "Seal the joints and the upper face of the flange",
                "with polyurethane: oil must not get inside.",
                f"Clear of the base by {lip.clearance:g} mm all round.",
            ],
        )

    return draw


def _lip_profile(sheet: Sheet, params: Params, view: View) -> None:
    """Section of the lip, x from its outer face inwards (to the left)."""
    lip = params.lip
    h, wall, flange, thick = lip.height, lip.wall, lip.flange, lip.flange_thickness
    edge = wall * 0.3
    skirt = [(0.0, 0.0), (0.0, -h), (-edge, -h), (-wall, -h + wall), (-wall, -thick)]
    shape = [*skirt, (-flange, -thick), (-flange, 0.0)]
    sheet.area([view.at(x, y) for x, y in shape], "#ddd")
    sheet.text(view.at(-flange, 8.0), "Section, 3:1", height=SMALL, bold=True)
    _width(sheet, view, (-flange, 0.0), 0.0, f"{flange:g}", -5.0)
    _width(sheet, view, (-wall, 0.0), -h, f"{wall:g}", 8.0)
    sheet.upright(
        (view.at(0, 0)[1], view.at(0, -h)[1]), view.at(6.0, 0)[0], f"{h:g}",
        (view.at(0, 0)[0], view.at(0, -h)[0]),
    )  # fmt: skip
    _height(sheet, view, (-thick, 0.0), -flange, f"{thick:g}", 6.0)


def _pad(sheet: Sheet, solid: Manifold, params: Params) -> None:
    pad = params.pan_pad
    below = put(sheet, solid, BELOW, (92.0, 52.0), 1.5)
    front = put(sheet, solid, FRONT, (92.0, 136.0), 1.5)
    half, wide = pad.length / 2.0, pad.width / 2.0
    _width(sheet, below, (-half, half), -wide, f"{pad.length:g}", 8.0)
    _height(sheet, below, (-wide, wide), -half, f"{pad.width:g}", 8.0)
    _width(
        sheet, below, (-pad.magnet_pitch / 2.0, pad.magnet_pitch / 2.0), wide,
        f"{pad.magnet_pitch:g}", -5.0,
    )  # fmt: skip
    _width(
        sheet,
        front,
        (-pad.strap_pitch / 2.0, pad.strap_pitch / 2.0),
        0.0,
        f"{pad.strap_pitch:g}",
        8.0,
    )
    _height(sheet, front, (0.0, pad.height), -half, f"{pad.height:g}", 8.0)
    sheet.text((40.0, 16.0), "Face to the pan, 1.5:1", height=SMALL, bold=True)
    tip = below.at(pad.magnet_pitch / 2.0, pad.magnet / 3.0)
    sheet.pointer(tip, (154.0, 34.0), f"2× Ø{pad.magnet:g}, {pad.magnet_depth:g} deep")
    tip = below.at(0.0, -pad.button / 3.0)
    sheet.pointer(
        tip, (154.0, 68.0), f"Ø{pad.button:g}, {pad.button_depth:g} deep, then Ø{pad.lead:g}"
    )
    tip = below.at(pad.strap_pitch / 2.0, -6.0)
    sheet.pointer(
        tip, (154.0, 60.0), f"2× {pad.strap_slot[0]:g} × {pad.strap_slot[1]:g} for a strap"
    )
    iso = View((236.0, 110.0), 1.2)
    sheet.lines(iso.paths(visible_lines([solid], ISOMETRIC)))
    _notes(
        sheet,
        [
            f"The lead goes up through Ø{pad.lead:g} and out by the groove,"
            f" {pad.lead:g} wide and deep.",
            "Magnets SmCo 12 × 5, glued with an epoxy for 150 °C.",
            *_spring_notes(params),
        ],
    )


def _spring_notes(params: Params) -> tuple[str, str]:
    out = f"{params.pan_button.proud:g} mm"
    return (
        f"Spring on the step of the bore, button pressed in until {out}",
        "stands out; then the lead glued into the groove: it holds both.",
    )


def _clamp(sheet: Sheet, solid: Manifold, params: Params) -> None:
    clamp = params.pan_clamp
    front = put(sheet, solid, FRONT, (82.0, 66.0), 1.5)
    left, right = -clamp.wall, clamp.throat
    low = -clamp.jaw - clamp.wall
    _width(sheet, front, (left, right), clamp.head, f"{right - left:g}", -8.0)
    _height(sheet, front, (low, clamp.head), left, f"{clamp.head - low:g}", 8.0)
    _height(sheet, front, (-clamp.jaw, 0.0), right, f"{clamp.jaw:g}", -10.0)
    _height(sheet, front, (0.0, clamp.head), right, f"{clamp.head:g}", -10.0)
    _width(sheet, front, (0.0, clamp.throat), low, f"{clamp.throat:g}", 8.0)
    _width(sheet, front, (-clamp.wall, 0.0), low, f"{clamp.wall:g}", 8.0)
    sheet.text((38.0, 16.0), "Side, 1.5:1", height=SMALL, bold=True)
    above = put(sheet, solid, ABOVE, (82.0, 154.0), 1.5)
    half, axis = clamp.width / 2.0, clamp.throat * 0.6
    _height(sheet, above, (-half, half), left, f"{clamp.width:g}", 8.0)
    _width(sheet, above, (axis, right), -half, f"{right - axis:g}", 8.0)
    sheet.text((38.0, 130.0), "From above", height=SMALL, bold=True)
    tip = above.at(axis, clamp.lead / 3.0)
    bore = f"Ø{clamp.lead:g}; from the jaw Ø{clamp.button:g}, {clamp.button_depth:g} deep"
    sheet.pointer(tip, (126.0, 140.0), bore)
    tip = above.at(left / 2.0, 0.0)
    sheet.pointer(tip, (50.0, 190.0), f"groove {clamp.lead:g} wide and deep")
    tip = front.at(axis, low + clamp.wall / 2.0)
    sheet.pointer(tip, (126.0, 118.0), f"Ø{clamp.screw_tap:g}, tap M5, on the button's axis")
    iso = View((246.0, 106.0), 1.1)
    sheet.lines(iso.paths(visible_lines([solid], ISOMETRIC)))
    _notes(
        sheet,
        [
            "Grips a rib or edge of the pan 3 to 16 mm thick.",
            *_spring_notes(params),
            "Thumb screw M5 with a soft foot; hand-tight only.",
            "Print on its side, so that layers do not split at the throat.",
        ],
    )


def _body(sheet: Sheet, solid: Manifold, params: Params) -> None:
    head = params.signal_head
    face = put(sheet, solid, Camera((-1, 0, 0), (0, 1, 0)), (66.0, 97.0), 0.8)
    side = put(sheet, solid, Camera((0, 0, -1), (0, 1, 0)), (150.0, 97.0), 0.8)
    half_w, half_h = head.width / 2.0, head.height / 2.0
    _width(sheet, face, (-half_w, half_w), -half_h, f"{head.width:g}", 8.0)
    _height(sheet, face, (-half_h, half_h), -half_w, f"{head.height:g}", 22.0)
    heights = lamp_heights(head)
    _height(sheet, face, (heights[0], half_h), -half_w, f"{head.first_lamp:g}", 6.0)
    for upper, lower in pairwise(heights):
        _height(sheet, face, (lower, upper), -half_w, f"{head.lamp_pitch:g}", 6.0)
    for y, lamp in zip(heights, head.lamps, strict=True):
        sheet.pointer(
            face.at(head.lamp_hole / 3.0, y),
            (face.at(half_w, 0.0)[0] + 6.0, face.at(0, y)[1]),
            lamp,
        )
    low = -half_h + head.sounder_from_bottom
    sheet.pointer(
        face.at(head.grill_circle / 2.0, low),
        (face.at(half_w, 0.0)[0] + 6.0, face.at(0, low)[1]),
        "sounder",
    )
    _width(sheet, side, (-head.depth, 0.0), -half_h, f"{head.depth:g}", 8.0)
    sheet.text((48.0, 14.0), "Face", height=SMALL, bold=True)
    sheet.text((140.0, 14.0), "Side", height=SMALL, bold=True)
    iso = View((238.0, 92.0), 0.42)
    sheet.lines(iso.paths(visible_lines([solid.rotate((90.0, 0.0, 0.0))], ISOMETRIC)))
    _notes(
        sheet,
        [
            f"4× Ø{head.lamp_hole:g} for the lamps, 7× Ø{head.grill_hole:g} for the sound,",
            f"Ø{head.gland:g} for the gland in the lower end; 4× Ø{params.fit.tap_M3:g} for M3.",
            "Sunk dots, one to four, tell the lamps without colour: paint them white.",
            f"Wall {head.wall:g}. Print with the face on the bed, without support.",
        ],
    )


def _lid(sheet: Sheet, solid: Manifold, params: Params) -> None:
    head = params.signal_head
    view = put(sheet, solid, ABOVE, (84.0, 97.0), 0.8)
    half_w, half_h = head.width / 2.0, head.height / 2.0
    _width(sheet, view, (-half_w, half_w), -half_h, f"{head.width:g}", 8.0)
    _height(sheet, view, (-half_h, half_h), -half_w, f"{head.height:g}", 18.0)
    stand = head.foot_pitch / 2.0
    _height(sheet, view, (-stand, stand), -half_w, f"{head.foot_pitch:g}", 7.0)
    tip = view.at(1.0, stand)
    sheet.pointer(tip, (tip[0] + 30.0, tip[1]), f"2× Ø{params.fit.clear_M4:g} for a stand")
    tip = view.at(half_w - 4.0, half_h - 4.0)
    sheet.pointer(tip, (tip[0] + 14.0, tip[1] + 6.0), f"4× Ø{params.fit.clear_M3:g}")
    side = put(sheet, solid, SIDE, (236.0, 70.0), 0.45)
    _height(sheet, side, (0.0, head.lid), -half_h, f"{head.lid:g}", 6.0)
    _notes(sheet, ["Closed cell foam, 1 mm, between lid and body: splash-proof, not more."])


_SHEETS: Mapping[str, tuple[Callable[[Sheet, Manifold, Params], None], str]] = {
    "P6": (_lip("drain"), "0.9:1"),
    "P7": (_lip("supply"), "0.9:1"),
    "P8": (_pad, "1.5:1"),
    "P9": (_clamp, "1.5:1"),
    "P12": (_body, "0.8:1"),
    "P13": (_lid, "0.8:1"),
}
