# SPDX-License-Identifier: Apache-2.0
"""The pictures of the guides: line drawings of the parts, with the names that the text uses."""

from collections.abc import Callable, Mapping, Sequence

from manifold3d import Manifold

from mechanical.assembly import Heights, platform_parts
from mechanical.head_solids import head_body, head_lid, lamp, lamp_heights
from mechanical.pan_solids import button, pan_clamp, pan_pad
from mechanical.params import Params
from mechanical.plan import stop_places
from mechanical.sheet import SMALL, Point, Sheet, View
from mechanical.solids import rod
from mechanical.view import ISOMETRIC, ISOMETRIC_BELOW, Camera, visible_lines

SIZE = (180.0, 120.0)
Spot = tuple[float, float, float]
COLOURS = {"red": "#d33", "amber": "#f5a623", "blue": "#2b6cb0", "white": "#ffffff"}


class Picture:
    """A figure: solids in one view, and pointers to places in space."""

    def __init__(self, params: Params, label: str, camera: Camera = ISOMETRIC) -> None:
        self.sheet, self.camera = Sheet(SIZE, label), camera
        words = f"Revision {params.revision}; {params.status}"
        self.sheet.text((SIZE[0] - 4.0, SIZE[1] - 3.0), words, height=SMALL, anchor="end")
        self.view = View((0.0, 0.0), 1.0)

    def draw(self, solids: Sequence[Manifold], middle: Point, scale: float) -> None:
        """Draw solids, the axes' origin at ``middle`` of the figure."""
        self.view = View(middle, scale)
        self.sheet.lines(self.view.paths(visible_lines(solids, self.camera)), 0.25)

    def at(self, spot: Spot) -> Point:
        """Where a place in space lies on the figure."""
        return self.view.at(*self.camera.flat(spot))

    def point(self, spot: Spot, to: Point, words: str) -> None:
        """Point to a place in space."""
        self.sheet.pointer(self.at(spot), to, words)

    def trace(self, start: Spot, end: Spot) -> None:
        """A dashed line: which way a part goes to its place."""
        self.sheet.line([self.at(start), self.at(end)], 0.18, "2 1.2")


def base_figure(params: Params) -> Sheet:
    """Step 1: base, feet, stops."""
    picture = Picture(params, "Base plate P1 with its three feet and four stops")
    parts, at = platform_parts(params, "drain"), Heights.of(params, "drain")
    picture.draw([parts.feet, parts.base, parts.stops], (88.0, 74.0), 0.36)
    half = params.base_side("drain") / 2.0
    platform, mount = params.platform["drain"], params.cell["drain"].mount
    spots = sorted(stop_places(params, "drain"))
    picture.point((*spots[0], at.stop), (54.0, 12.0), "four stops, M6, with lock nuts")
    picture.point((-half + 20.0, half * -0.2, at.base_top), (24.0, 34.0), "P1 base")
    picture.point((mount, 0.0, at.base_top), (128.0, 20.0), "here the fixed end of LC1")
    picture.point((*platform.cable_clamp, at.base_top), (146.0, 34.0), "cable clamp")
    foot = platform.feet[0]
    picture.point((foot[0], foot[1], 4.0), (124.0, 110.0), "three feet below, M8")
    return picture.sheet


def cell_figure(params: Params) -> Sheet:
    """Step 2: spacer, cell, spacer."""
    picture = Picture(params, "Load cell LC1 between its two spacers P5 above the base")
    parts, at = platform_parts(params, "drain"), Heights.of(params, "drain")
    low, high = parts.spacers
    lift = (30.0, 70.0, 110.0)
    solids = [
        parts.feet, parts.base, parts.stops, low.translate((0, 0, lift[0])),
        parts.cell.translate((0, 0, lift[1])), high.translate((0, 0, lift[2])),
    ]  # fmt: skip
    picture.draw(solids, (88.0, 80.0), 0.3)
    mount = params.cell["drain"].mount
    picture.trace((mount, 0, at.base_top), (mount, 0, at.base_top + lift[0]))
    picture.trace((mount, 0, at.cell + lift[0]), (mount, 0, at.cell + lift[1]))
    top = at.top - params.fit.spacer
    picture.trace((-mount, 0, top + lift[1]), (-mount, 0, top + lift[2]))
    picture.point((-mount, -10.0, at.top + lift[2]), (46.0, 16.0), "P5 spacer, free end")
    picture.point((20.0, -15.0, at.cell + 11.0 + lift[1]), (128.0, 24.0), "LC1, arrow on it down")
    picture.point(
        (mount, -15.0, at.base_top + 2.0 + lift[0]), (140.0, 40.0), "P5 spacer, fixed end"
    )
    picture.point((mount + 40.0, 0.0, at.base_top), (138.0, 52.0), "its cable leaves here")
    return picture.sheet


def top_figure(params: Params) -> Sheet:
    """Step 3: top plate and lip."""
    picture = Picture(params, "Top plate P2 with the four lip corners P6, above the rest")
    parts, at = platform_parts(params, "drain"), Heights.of(params, "drain")
    lips = [lip.translate((0, 0, 60.0)) for lip in parts.lips]
    solids = [
        parts.feet, parts.base, parts.stops, *parts.spacers, parts.cell, *lips,
        parts.top.translate((0, 0, 120.0)),
    ]  # fmt: skip
    picture.draw(solids, (90.0, 84.0), 0.27)
    half = params.platform["drain"].top / 2.0
    for x, y in ((half, -half), (-half, -half), (half, half)):
        picture.trace((x * 0.96, y * 0.96, at.top + 60.0), (x * 0.96, y * 0.96, at.top + 120.0))
    picture.point((half * 0.5, -half * 0.5, at.deck + 120.0), (140.0, 20.0), "P2 top")
    mount = -params.cell["drain"].mount
    picture.point((mount, 0.0, at.deck + 120.0), (48.0, 14.0), "screws M6, countersunk")
    picture.point((half, half * -0.4, at.top + 52.0), (142.0, 74.0), "P6 lip corner, 4×")
    picture.point((half * -0.6, -half * 0.94, at.base + 3.0), (36.0, 110.0), "P1 base with LC1")
    return picture.sheet


def pan_figure(params: Params) -> Sheet:
    """Pad and clamp, from below."""
    picture = Picture(
        params, "Pan pad P8 and pan clamp P9 from the side of the pan", ISOMETRIC_BELOW
    )
    pad = params.pan_pad
    solids = [pan_pad(params), button(params).translate((0, 0, -29.0))]
    magnets = [
        rod(pad.magnet - 0.2, (sx * pad.magnet_pitch / 2.0, 0.0), (-24.0, -19.0)) for sx in (-1, 1)
    ]
    picture.draw([*solids, *magnets], (52.0, 50.0), 0.95)
    for sx in (-1.0, 1.0):
        picture.trace((sx * pad.magnet_pitch / 2.0, 0, 0), (sx * pad.magnet_pitch / 2.0, 0, -19.0))
    picture.trace((0, 0, 0), (0, 0, -24.0))
    picture.point((0.0, 0.0, -30.0), (62.0, 106.0), "TC1 in its button, insulated; spring behind")
    picture.point((pad.magnet_pitch / 2.0, -4.0, -24.0), (76.0, 88.0), "SmCo magnets, 2×")
    picture.point((-pad.strap_pitch / 2.0, -4.0, 0.0), (33.0, 98.0), "slots for a strap")
    picture.sheet.text((34.0, 14.0), "P8 pad", bold=True)
    picture.draw([pan_clamp(params)], (140.0, 56.0), 0.85)
    clamp = params.pan_clamp
    axis, low = clamp.throat * 0.6, -clamp.jaw - clamp.wall
    picture.point((axis, -4.0, 0.0), (150.0, 24.0), "here TC1's button")
    picture.point((axis, 0.0, low), (154.0, 92.0), "thumb screw M5")
    picture.sheet.text((128.0, 14.0), "P9 clamp", bold=True)
    return picture.sheet


def head_figure(params: Params) -> Sheet:
    """The signal head: face, and opened."""
    head = params.signal_head
    camera = Camera((-1, 0, 0), (0, 1, 0))
    picture = Picture(params, "Signal head P12: lamps red, amber, blue, white from top", camera)
    picture.draw([head_body(params)], (46.0, 58.0), 0.5)
    for y, colour in zip(lamp_heights(head), head.lamps, strict=True):
        spot = picture.at((0.0, y, 0.0))
        picture.sheet.circle(spot, head.lamp_hole / 2.0 * 0.5, 0.3, COLOURS[colour])
    words = ("LD1 red", "LD2 amber", "LD3 blue", "LD4 white")
    for y, text in zip(lamp_heights(head), words, strict=True):
        picture.point((-head.width / 2.0, y, 0.0), (64.0, picture.at((0, y, 0))[1]), text)
    low = -head.height / 2.0 + head.sounder_from_bottom
    picture.point((-head.width / 2.0, low, 0.0), (64.0, picture.at((0, low, 0))[1]), "SP1 sounder")
    picture.point((0.0, -head.height / 2.0, 0.0), (64.0, 112.0), "W6 through gland X3")
    picture.camera = Camera((0.55, 0, -0.835), (0.3, 0.9, 0.2))
    lamps = [lamp(params, y) for y in lamp_heights(head)]
    lid = head_lid(params).rotate((180.0, 0.0, 0.0)).translate((0, 0, head.depth + 50.0))
    picture.draw([head_body(params), *lamps, lid], (150.0, 58.0), 0.45)
    picture.sheet.text((114.0, 104.0), "P13 lid", anchor="middle", bold=True)
    picture.sheet.text((146.0, 110.0), "P12 body", anchor="middle", bold=True)
    return picture.sheet


def box_figure(params: Params) -> Sheet:
    """The control box from above, lid off."""
    box = params.control_box
    picture = Picture(params, "Control box with its lid off: carrier, computer, converters")
    sheet, view = picture.sheet, View((82.0, 58.0), 0.5)
    length, width, _ = box.inside

    def board(at: Point, size: Point, words: str, fill: str = "#eef3ee") -> None:
        corner = view.at(at[0] - size[0] / 2.0, at[1] + size[1] / 2.0)
        sheet.box(corner, (size[0] * view.scale, size[1] * view.scale), fill, 0.25)
        middle = view.at(*at)
        sheet.text((middle[0], middle[1] + 1.0), words, height=SMALL, anchor="middle")

    board((0.0, 0.0), (length + 2 * box.wall, width + 2 * box.wall), "", "#fff")
    board((0.0, 0.0), (box.tray[0], box.tray[1]), "", "#f7f7f7")
    board(box.carrier_at, box.carrier, "X5 carrier")
    board(box.computer_at, box.computer, "A1")
    middle_row = sum(box.tie_rows) / len(box.tie_rows)
    for n, name in enumerate(("A2", "A3")):
        x = (box.tie_columns[2 * n] + box.tie_columns[2 * n + 1]) / 2.0
        board((x, middle_row), (34.0, 22.0), name)
    first, pitch = -length / 2.0 + box.wall_inset, (length - 2 * box.wall_inset) / 5.0
    for n, opening in enumerate(box.openings):
        x = first + n * pitch
        board((x, -width / 2.0 - 6.0), (opening.diameter, 12.0), "", "#ddd")
        at = view.at(x, -width / 2.0 - 20.0)
        row = 4.0 * (n % 2)
        sheet.text(
            (at[0], at[1] + row), f"{opening.ref} {opening.what}", height=SMALL, anchor="middle"
        )
    sheet.pointer(view.at(112.0, 60.0), (156.0, 22.0), "P10 tray")
    sheet.text((18.0, 9.0), "Sockets look down: drops run off, nothing runs in.", height=SMALL)
    return sheet


def bottle_figure(params: Params) -> Sheet:
    """Same bottle, same mark: water, then oil."""
    picture = Picture(params, "One bottle to the same mark on the drain scale: empty, water, oil")
    sheet = picture.sheet
    for n, (words, fill, weighed) in enumerate(
        (("empty", "#fff", "m₀"), ("water", "#dbeafe", "m₁"), ("oil", "#fde7c3", "m₂"))
    ):
        x = 34.0 + 56.0 * n
        sheet.area([(x - 10, 78), (x + 10, 78), (x + 10, 46), (x - 10, 46)], fill, 0.25)
        right = [(x + 10, 46), (x + 10, 40), (x + 4, 30), (x + 4, 22)]
        sheet.line([*right, *((2 * x - px, py) for px, py in reversed(right))], 0.3)
        sheet.line([(x - 14, 46), (x + 14, 46)], 0.5)
        sheet.box((x - 22, 79), (44, 4), "#ddd", 0.3)
        sheet.box((x - 20, 89), (40, 4), "#ddd", 0.3)
        sheet.box((x - 8, 83), (16, 6), "#fff", 0.3)
        sheet.text((x, 102.0), f"{words}: {weighed}", anchor="middle", bold=True)
    sheet.text((50.0, 45.0), "mark", height=SMALL)
    sheet.text((90.0, 12.0), "ρ = ρ(water) × (m₂ − m₀) / (m₁ − m₀)", anchor="middle", bold=True)
    return sheet


def bay_figure(params: Params) -> Sheet:
    """Where things stand under a car."""
    picture = Picture(params, "The bay: kit under the car at 5 V, mains at the bench behind an RCD")
    sheet = picture.sheet
    sheet.line([(4, 104), (176, 104)], 0.5)
    sheet.area(
        [(52, 30), (150, 30), (156, 24), (140, 12), (84, 12), (70, 22), (52, 24)], "#f3f3f3", 0.3
    )
    for x in (70.0, 132.0):
        sheet.circle((x, 32.0), 8.0, 0.35, "#fff")
    sheet.area([(92, 30), (116, 30), (114, 38), (94, 38)], "#e2e2e2", 0.3)
    for x in (58.0, 146.0):
        sheet.area([(x - 2, 30), (x + 2, 30), (x + 4, 104), (x - 4, 104)], "#fff", 0.3)
    sheet.line([(104, 38), (104, 76)], 0.4, "1.5 1")
    sheet.area([(93, 76), (115, 76), (112, 94), (96, 94)], "#fde7c3", 0.3)
    sheet.box((88, 94), (32, 3), "#ddd", 0.3)
    sheet.box((89, 100), (30, 3), "#ddd", 0.3)
    sheet.box((99, 97), (10, 3), "#fff", 0.3)
    sheet.box((64, 96), (14, 8), "#eef3ee", 0.3)
    sheet.line([(78, 102), (89, 101)], 0.35)
    sheet.line([(71, 96), (71, 88), (91, 37)], 0.25)
    sheet.box((84, 78), (4, 16), "#fff", 0.3)
    sheet.line([(86, 94), (78, 98)], 0.25)
    sheet.box((6, 80), (30, 3), "#fff", 0.3)
    for x in (9.0, 33.0):
        sheet.line([(x, 83), (x, 104)], 0.35)
    sheet.box((16, 74), (10, 6), "#eef3ee", 0.3)
    sheet.line([(26, 77), (44, 90), (64, 100)], 0.35)
    for tip, at, words in (
        ((20.0, 76.0), (22.0, 52.0), "PS1 on the bench, RCD"),
        ((40.0, 87.0), (36.0, 68.0), "5 V, W7"),
        ((68.0, 99.0), (80.0, 113.0), "control box, clear of drips"),
        ((92.0, 37.0), (40.0, 42.0), "TC1 on the pan"),
        ((86.0, 80.0), (160.0, 62.0), "signal head"),
        ((112.0, 88.0), (160.0, 84.0), "container"),
        ((118.0, 95.5), (160.0, 96.0), "platform"),
        ((146.0, 60.0), (160.0, 48.0), "stands"),
    ):
        sheet.pointer(tip, at, words)
    return sheet


FIGURES: Mapping[str, Callable[[Params], Sheet]] = {
    "step-1-base": base_figure,
    "step-2-load-cell": cell_figure,
    "step-3-top-and-lip": top_figure,
    "pan-pad-and-clamp": pan_figure,
    "signal-head": head_figure,
    "control-box": box_figure,
    "bottle-density": bottle_figure,
    "in-the-bay": bay_figure,
}
