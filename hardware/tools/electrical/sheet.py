# SPDX-License-Identifier: Apache-2.0
"""A schematic sheet: parts drawn at places, their references and values from the circuit."""

import re
from collections.abc import Sequence
from itertools import pairwise
from typing import Literal

import schemdraw
from schemdraw import elements as elm

from electrical.netlist import Bench, signals
from electrical.titles import LICENCE, title

Point = tuple[float, float]
Align = Literal["left", "center", "right"]
SMALL, TITLE = 10.0, 12.0  # sizes of the letters
MARGIN = 24.0  # around the drawing, in points; the drawing program takes letters for narrower
LETTER = 6.8  # the mean width of the title's letters, in points
ROW, LEAD = 0.8, 0.5  # between the pins of a box, and how far they stand out


class Sheet:
    """One drawing; places are in units of the drawing, y upwards."""

    def __init__(self, bench: Bench) -> None:
        """Begin an empty sheet."""
        schemdraw.use("svg")
        elm.style(elm.STYLE_IEC)  # type: ignore[no-untyped-call]  # the package left it so
        self.bench = bench
        self.circuit = bench.circuit
        self._drawing = schemdraw.Drawing(show=False, fontsize=SMALL, font="sans-serif")

    def part(self, ref: str, start: Point, end: Point, element: type[elm.Element2Term]) -> None:
        """Draw a part with two ends, its reference and value right of it or above it."""
        self._drawing.add(element().endpoints(start, end))
        middle = ((start[0] + end[0]) / 2.0, (start[1] + end[1]) / 2.0)
        if abs(start[0] - end[0]) < 1e-9:
            clear = 0.95 if element is elm.LED else 0.4
            self.text(self.label(ref), (middle[0] + clear, middle[1]))
        else:
            self.text(self.label(ref), (middle[0], middle[1] + 0.65), halign="center")

    def label(self, ref: str) -> str:
        """Return a part's reference, with its value where it has one, in two lines."""
        part = self.circuit.part[ref]
        return "\n".join(filter(None, (ref, part.value or part.colour)))

    def near_end(self, node: str) -> str:
        """Return where the core that leads to a pin starts at the box."""
        ends = (end for cable in self.circuit.cables for end in cable.cores)
        return next(near for _, near, far in ends if far == node)

    def wire(self, *points: Point) -> None:
        """Draw a line through some points."""
        for start, end in pairwise(points):
            if start != end:
                self._drawing.add(elm.Line().endpoints(start, end))

    def outline(self, corner: Point, opposite: Point) -> None:
        """Draw a rectangle."""
        (x, y), (right, top) = corner, opposite
        self.wire((x, y), (right, y), (right, top), (x, top), (x, y))

    def dot(self, *places: Point) -> None:
        """Mark places where lines join."""
        for place in places:
            self._drawing.add(elm.Dot().at(place))

    def ground(self, place: Point) -> None:
        """Draw a ground."""
        self._drawing.add(elm.Ground().at(place).theta(0))

    def rail(self, name: str, place: Point) -> None:
        """Draw a rail's bar, its name above."""
        self.wire((place[0] - 0.25, place[1]), (place[0] + 0.25, place[1]))
        self.text(name, (place[0], place[1] + 0.45), halign="center")

    def signal(self, name: str, place: Point) -> None:
        """Draw a pin of the computer, with its number and its place on the header."""
        nodes = self.circuit.nets[self.circuit.net[f"A1.{name}"]]
        socket = next(node for node in nodes if node.startswith("J1."))
        self._open_dot(place)
        words = f"A1 BCM {signals(self.bench.pins)[name]}\n{socket}"
        self.text(words, (place[0] - 0.25, place[1]), halign="right")

    def terminal(self, text: str, place: Point, side: str) -> None:
        """Draw a pin of a plug or terminal, its words at the left or on top."""
        self._open_dot(place)
        if side == "left":
            self.text(text, (place[0] - 0.25, place[1]), halign="right")
        else:
            self.text(text, (place[0], place[1] + 0.35), halign="center")

    def _open_dot(self, place: Point) -> None:
        self._drawing.add(elm.Dot(open=True).at(place))

    def transistor(self, ref: str, gate: Point) -> tuple[Point, Point]:
        """Draw a transistor by its gate; return where its drain and its source are."""
        placed = self._drawing.add(elm.NMos().anchor("gate").at(gate).theta(0))
        drain, source = placed.absanchors["drain"], placed.absanchors["source"]
        self.text(ref, (drain[0] + 0.3, gate[1] + 0.2))
        return (drain[0], drain[1]), (source[0], source[1])

    def box(
        self, ref: str, place: Point, left: Sequence[str], right: Sequence[str], width: float = 3.2
    ) -> dict[str, Point]:
        """Draw a board or module as a box; return where the ends of its pins are.

        Args:
            ref: The part; its reference stands on top.
            place: The lower left corner.
            left: The pins at the left, from top to bottom; an empty name leaves a gap.
            right: Those at the right.
            width: Of the box; its height follows from the pins.
        """
        x, y = place
        height = ROW * max(len(left), len(right))
        self.outline(place, (x + width, y + height))
        self.text(ref, (x + width / 2.0, y + height + 0.3), halign="center")
        ends: dict[str, Point] = {}
        sides: tuple[tuple[Sequence[str], float, float, Align], ...] = (
            (left, x, 1.0, "left"),
            (right, x + width, -1.0, "right"),
        )
        for pins, edge, sign, side in sides:
            for row, pin in enumerate(pins):
                at = y + height - (row + 0.5) * ROW
                if pin:
                    self.text(pin, (edge + 0.15 * sign, at), halign=side)
                    self.wire((edge, at), (edge - LEAD * sign, at))
                    ends[pin] = (edge - LEAD * sign, at)
        return ends

    def text(self, words: str, place: Point, size: float = SMALL, halign: Align = "left") -> None:
        """Write something, its middle height at a place."""
        label = elm.Label().at(place).theta(0)
        self._drawing.add(
            label.label(words, loc="center", halign=halign, valign="center", fontsize=size)
        )

    def svg(self, what: str, place: Point) -> str:
        """Finish the sheet with its title and return it as SVG, with a margin."""
        words = title(self.circuit, what)
        self.text(words, place, TITLE)
        raw: bytes = self._drawing.get_imagedata("svg")
        drawn = raw.decode()
        box = re.search(r'height="[^"]*" width="[^"]*" viewBox="([^"]*)"', drawn)
        assert box is not None
        x, y, width, height = (float(number) for number in box[1].split())
        x, y, height = x - MARGIN, y - MARGIN, height + 2 * MARGIN
        width = max(width, LETTER * len(words)) + 2 * MARGIN
        area = f'width="{width:.0f}" height="{height:.0f}"'
        drawn = drawn.replace(box[0], f'{area} viewBox="{x:.0f} {y:.0f} {width:.0f} {height:.0f}"')
        head, bracket, rest = drawn.partition(">")
        paper = f'<rect x="{x:.0f}" y="{y:.0f}" {area} fill="white"/>'
        return f"<!-- {LICENCE} -->\n{head}{bracket}{paper}{rest}\n"
