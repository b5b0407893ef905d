# SPDX-License-Identifier: Apache-2.0
"""The signal head: four lamps above each other, the sounder below, a lid on four posts."""

import math
from itertools import product

from manifold3d import Manifold

from mechanical.params import Params, SignalHead
from mechanical.solids import ROUND, THROUGH, rod, rounded, union

LID_SCREW_INSET = 2.0  # the post's middle from the inner wall's corner


def lamp_heights(head: SignalHead) -> list[float]:
    """Height of each lamp above the middle of the head, from top to bottom."""
    top = head.height / 2.0 - head.first_lamp
    return [top - n * head.lamp_pitch for n in range(len(head.lamps))]


def head_body(params: Params) -> Manifold:
    """The body: x across, y along its height, face down on z = 0 as it is printed, open above."""
    head = params.signal_head
    shell = rounded((head.width, head.height), 4.0).extrude(head.depth)
    inner = (head.width - 2.0 * head.wall, head.height - 2.0 * head.wall)
    hollow = rounded(inner, 2.0).extrude(head.depth).translate((0.0, 0.0, head.wall))
    posts = union(_posts(head))
    body = shell - hollow + (posts ^ shell)
    cuts = [rod(head.lamp_hole, (0.0, y), (-1.0, head.wall + 1.0)) for y in lamp_heights(head)]
    cuts += _grill(head)
    pilot = (head.depth - 12.0, head.depth + 1.0)
    cuts += [rod(params.fit.tap_M3, at, pilot) for at in post_places(head)]
    gland = Manifold.cylinder(head.wall + 2.0, head.gland / 2.0, -1.0, ROUND)
    gland = gland.rotate((-90.0, 0.0, 0.0))
    cuts.append(gland.translate((0.0, -head.height / 2.0 - 1.0, head.depth / 2.0)))
    return body - union([*cuts, *_dots(head)])


def post_places(head: SignalHead) -> list[tuple[float, float]]:
    """Middle of the four posts that the lid is screwed to."""
    x = head.width / 2.0 - head.wall - LID_SCREW_INSET
    y = head.height / 2.0 - head.wall - LID_SCREW_INSET
    return [(sx * x, sy * y) for sx, sy in product((-1.0, 1.0), repeat=2)]


def _posts(head: SignalHead) -> list[Manifold]:
    return [rod(head.post, at, (THROUGH, head.depth)) for at in post_places(head)]


def _grill(head: SignalHead) -> list[Manifold]:
    middle = (0.0, -head.height / 2.0 + head.sounder_from_bottom)
    through = (-1.0, head.wall + 1.0)
    holes = [rod(head.grill_hole, middle, through)]
    for n in range(6):
        angle, r = math.radians(60.0 * n), head.grill_circle / 2.0
        at = (middle[0] + r * math.cos(angle), middle[1] + r * math.sin(angle))
        holes.append(rod(head.grill_hole, at, through))
    return holes


def dot_places(head: SignalHead) -> list[tuple[float, float]]:
    """Middle of the sunk dots: one beside the top lamp, four beside the lowest.

    The face is printed downwards: dots lie at -x there and are on the right as one looks at it.
    """
    x = -(head.lamp_hole / 2.0 + 6.0)
    places = []
    for n, y in enumerate(lamp_heights(head), start=1):
        places += [(x, y + (k - (n - 1) / 2.0) * 4.0) for k in range(n)]
    return places


def _dots(head: SignalHead) -> list[Manifold]:
    return [rod(head.dot, at, (-THROUGH, head.dot_depth)) for at in dot_places(head)]


def head_lid(params: Params) -> Manifold:
    """The lid: a plate with four screws for the body and two for a stand."""
    head = params.signal_head
    plate = rounded((head.width, head.height), 4.0).extrude(head.lid)
    through = (-THROUGH, head.lid + THROUGH)
    cuts = [rod(params.fit.clear_M3, at, through) for at in post_places(head)]
    cuts += [
        rod(params.fit.clear_M4, (0.0, sy * head.foot_pitch / 2.0), through) for sy in (-1.0, 1.0)
    ]
    lip = rounded((head.width - 2.0 * head.wall - 0.4, 40.0), 2.0).extrude(1.5)
    return plate + lip.translate((0.0, 0.0, head.lid)) - union(cuts)


def lamp(params: Params, y: float) -> Manifold:
    """A lamp's lens, for figures: flush with the face."""
    head = params.signal_head
    return rod(head.lamp_hole - 0.4, (0.0, y), (0.0, 2.0))
