# SPDX-License-Identifier: Apache-2.0
"""The carrier's placement: ``hardware/carrier.toml`` against the circuit, and its picture."""

import math
from collections.abc import Iterator
from functools import cache
from itertools import combinations

import msgspec

from electrical.circuit import Circuit
from electrical.titles import LICENCE, title
from mechanical.params import ControlBox
from mechanical.sheet import SMALL, Sheet, View
from products import HARDWARE, HardwareError

Pair = tuple[float, float]
PLACES = HARDWARE / "carrier.toml"
APART = 1.0  # mm between two parts, and between a part and the board's edge
HOLE_CLEAR = 4.0  # mm around the middle of a hole for M3: its spacer
_WIRED = ("bridge_converter", "socket_", "computer")  # in the box, joined to the carrier by wires


class Placement(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Where each part lies, and how large it is."""

    size: dict[str, Pair]
    size_of: dict[str, Pair]
    at: dict[str, Pair]

    def box(self, circuit: Circuit, ref: str) -> tuple[float, float, float, float]:
        """Left, low, right, high of a part, mm."""
        (x, y), (w, h) = self.at[ref], self.size_of.get(ref) or self.size[circuit.part[ref].kind]
        return x - w / 2.0, y - h / 2.0, x + w / 2.0, y + h / 2.0


@cache
def read_placement() -> Placement:
    """Read the file.

    Raises:
        HardwareError: A key unknown or missing.
    """
    try:
        return msgspec.toml.decode(PLACES.read_bytes(), type=Placement)
    except msgspec.ValidationError as error:
        raise HardwareError(f"{PLACES.name}: {error}") from error


def on_carrier(circuit: Circuit) -> list[str]:
    """References of the parts that are soldered to the carrier."""
    return [
        ref
        for ref, part in circuit.part.items()
        if part.place == "box" and not part.kind.startswith(_WIRED)
    ]


def misplaced(circuit: Circuit, placement: Placement, box: ControlBox) -> Iterator[str]:
    """Tell what is missing, too much, over the edge, on a screw, or on another part."""
    refs = on_carrier(circuit)
    for ref in sorted(set(refs) ^ set(placement.at)):
        yield f"{ref} is placed and not on the carrier, or the other way round"
    (length, width), inset = box.carrier, box.carrier_hole_inset
    holes = [(x, y) for x in (inset, length - inset) for y in (inset, width - inset)]
    boxes = {ref: placement.box(circuit, ref) for ref in refs if ref in placement.at}
    for ref, (left, low, right, high) in boxes.items():
        if min(left, low, length - right, width - high) < APART:
            yield f"{ref} reaches over the edge"
        for x, y in holes:
            near = min(max(x, left), right), min(max(y, low), high)
            if math.dist((x, y), near) < HOLE_CLEAR:
                yield f"{ref} lies on a screw"
    for (one, a), (other, b) in combinations(boxes.items(), 2):
        if max(a[0] - b[2], b[0] - a[2], a[1] - b[3], b[1] - a[3]) < APART:
            yield f"{one} and {other} touch"


def carrier_picture(circuit: Circuit, box: ControlBox) -> str:
    """Draw the carrier from the side of the parts.

    Raises:
        HardwareError: The placement cannot be.
    """
    placement = read_placement()
    found = list(misplaced(circuit, placement, box))
    if found:
        raise HardwareError(f"{PLACES.name}: " + "; ".join(found))
    length, width = box.carrier
    sheet = Sheet((length + 20.0, width + 28.0), "Carrier X5 with its parts")
    view = View((10.0, width + 10.0), 1.0)
    sheet.rounded_box(view.at(0.0, width), box.carrier, 2.0, 0.5)
    for x in (box.carrier_hole_inset, length - box.carrier_hole_inset):
        for y in (box.carrier_hole_inset, width - box.carrier_hole_inset):
            sheet.circle(view.at(x, y), 1.7, 0.25)
    for ref in placement.at:
        left, low, right, high = placement.box(circuit, ref)
        sheet.box(view.at(left, high), (right - left, high - low), "#eef3ee", 0.25)
        middle = view.at((left + right) / 2.0, (low + high) / 2.0)
        sheet.text((middle[0], middle[1] + 0.9), ref, height=SMALL, anchor="middle")
    sheet.text((10.0, 7.0), "Upper edge: converters A2 and A3", height=SMALL)
    sheet.text((length + 10.0, 7.0), "computer A1: right", height=SMALL, anchor="end")
    sheet.text((10.0, width + 15.0), "Lower edge: sockets and glands", height=SMALL)
    sheet.text((10.0, width + 22.0), title(circuit, "carrier, side of the parts"), height=SMALL)
    return sheet.svg().replace("<svg", f"<!-- {LICENCE} -->\n<svg", 1)
