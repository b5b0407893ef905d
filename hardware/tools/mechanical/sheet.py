# SPDX-License-Identifier: Apache-2.0
"""A drawing sheet: lines, dimensions, notes and a title block, as SVG in millimetres."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

Point = tuple[float, float]

FONT = "Liberation Sans, Arial, Helvetica, sans-serif"
TEXT, SMALL = 3.2, 2.6  # heights of letters, mm
ARROW = 2.4


@dataclass(frozen=True)
class Title:
    """What the block in the corner says."""

    name: str
    ref: str
    scale: str
    revision: str
    status: str
    material: str = ""


class Sheet:
    """A sheet of paper; x to the right, y down, millimetres.

    Args:
        size: Width and height.
        label: What it shows, for those who cannot see it.
    """

    def __init__(self, size: Point, label: str) -> None:
        self.size, self._label = size, label
        self._body: list[str] = []

    def line(self, points: Sequence[Point], width: float = 0.35, dash: str = "") -> None:
        """Draw a path."""
        path = "M" + " L".join(f"{x:.2f} {y:.2f}" for x, y in points)
        extra = f' stroke-dasharray="{dash}"' if dash else ""
        self._body.append(f'<path d="{path}" stroke-width="{width:g}"{extra}/>')

    def lines(self, paths: Iterable[Sequence[Point]], width: float = 0.3) -> None:
        """Draw many paths as one element."""
        path = " ".join("M" + " L".join(f"{x:.2f} {y:.2f}" for x, y in one) for one in paths)
        self._body.append(f'<path d="{path}" stroke-width="{width:g}"/>')

    def circle(self, at: Point, radius: float, width: float = 0.35, fill: str = "none") -> None:
        """Draw a circle."""
        self._body.append(
            f'<circle cx="{at[0]:.2f}" cy="{at[1]:.2f}" r="{radius:.2f}" '
            f'stroke-width="{width:g}" fill="{fill}"/>'
        )

    def area(self, points: Sequence[Point], fill: str, width: float = 0.35) -> None:
        """Draw a filled shape."""
        path = " ".join(f"{x:.2f},{y:.2f}" for x, y in points)
        self._body.append(f'<polygon points="{path}" stroke-width="{width:g}" fill="{fill}"/>')

    def box(self, corner: Point, size: Point, fill: str = "none", width: float = 0.35) -> None:
        """Draw a rectangle from its upper left corner."""
        (x, y), (w, h) = corner, size
        self.area([(x, y), (x + w, y), (x + w, y + h), (x, y + h)], fill, width)

    def rounded_box(self, corner: Point, size: Point, radius: float, width: float) -> None:
        """Draw a rectangle with round corners from its upper left corner."""
        self._body.append(
            f'<rect x="{corner[0]:.2f}" y="{corner[1]:.2f}" width="{size[0]:.2f}" '
            f'height="{size[1]:.2f}" rx="{radius:.2f}" stroke-width="{width:g}"/>'
        )

    def text(
        self, at: Point, words: str, *, height: float = TEXT, anchor: str = "start",
        bold: bool = False, turned: bool = False,
    ) -> None:  # fmt: skip
        """Write a line; ``at`` is the left, middle or right end of its base line."""
        x, y = at
        turn = f' transform="rotate(-90 {x:.2f} {y:.2f})"' if turned else ""
        weight = ' font-weight="bold"' if bold else ""
        self._body.append(
            f'<text x="{x:.2f}" y="{y:.2f}" font-size="{height:g}" text-anchor="{anchor}"'
            f"{weight}{turn}>{escape(words)}</text>"
        )

    # --- dimensions ---------------------------------------------------------------------------

    def across(self, x: tuple[float, float], y: float, words: str, reach: Sequence[float]) -> None:
        """Dimension a width: arrows at height ``y``; ``reach`` is where each help line begins."""
        for end, start in zip(x, reach, strict=True):
            self.line([(end, start), (end, y + math.copysign(1.5, y - start))], 0.13)
        self._arrows((x[0], y), (x[1], y))
        self.text(((x[0] + x[1]) / 2.0, y - 1.0), words, height=SMALL, anchor="middle")

    def upright(self, y: tuple[float, float], x: float, words: str, reach: Sequence[float]) -> None:
        """Dimension a height: arrows at ``x``; ``reach`` is where each help line begins."""
        for end, start in zip(y, reach, strict=True):
            self.line([(start, end), (x + math.copysign(1.5, x - start), end)], 0.13)
        self._arrows((x, y[0]), (x, y[1]))
        if abs(y[1] - y[0]) < 3.0 * ARROW:  # no room between the arrows
            self.text((x, min(y) - 2.0 * ARROW - 0.8), words, height=SMALL, anchor="middle")
            return
        middle = (y[0] + y[1]) / 2.0
        self.text((x - 1.0, middle), words, height=SMALL, anchor="middle", turned=True)

    def _arrows(self, start: Point, end: Point) -> None:
        """A line with an arrow at each end; arrows from outside where it is short."""
        length = math.dist(start, end)
        ux, uy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
        is_short = length < 3.0 * ARROW
        out = -1.0 if is_short else 1.0
        if is_short:
            reach = 2.0 * ARROW
            start_far = (start[0] - ux * reach, start[1] - uy * reach)
            end_far = (end[0] + ux * reach, end[1] + uy * reach)
            self.line([start_far, end_far], 0.13)
        else:
            self.line([start, end], 0.13)
        self._arrow(start, (ux * out, uy * out))
        self._arrow(end, (-ux * out, -uy * out))

    def _arrow(self, tip: Point, towards: Point) -> None:
        (x, y), (ux, uy) = tip, towards
        wide = ARROW / 6.0
        back = (x + ux * ARROW, y + uy * ARROW)
        one = (back[0] - uy * wide, back[1] + ux * wide)
        other = (back[0] + uy * wide, back[1] - ux * wide)
        self.area([tip, one, other], "#000", 0.0)

    def pointer(self, tip: Point, at: Point, words: str, *, bold: bool = False) -> None:
        """Write words beside a line that leads to ``tip``; they stand on the far side of it."""
        self.line([tip, at], 0.13)
        self.circle(tip, 0.5, 0.0, "#000")
        is_left = at[0] < tip[0]
        place = (at[0] + (-1.0 if is_left else 1.0), at[1] + 1.0)
        self.text(place, words, height=SMALL, anchor="end" if is_left else "start", bold=bold)

    def mark(self, at: Point, sign: str) -> None:
        """A number in a ring."""
        self.circle(at, 3.0, 0.25, "#fff")
        self.text((at[0], at[1] + 1.1), sign, anchor="middle", bold=True)

    # --- frame --------------------------------------------------------------------------------

    def frame(self, title: Title) -> None:
        """Draw the border and the title block in the lower right corner."""
        width, height = self.size
        self.box((5.0, 5.0), (width - 10.0, height - 10.0), width=0.5)
        left, top, wide = width - 113.0, height - 41.0, 108.0
        self.box((left, top), (wide, 36.0), "#fff", 0.5)
        self.text((left + 3.0, top + 6.5), f"{title.ref}  {title.name}", height=4.2, bold=True)
        rows = (
            title.material,
            f"Scale {title.scale}; mm; first angle; general tolerances ISO 2768-m",
            f"Revision {title.revision}; status: {title.status}",
            "drainscale; licence CERN-OHL-P-2.0; made from hardware/cad/params.toml",
        )
        for n, row in enumerate(filter(None, rows)):
            self.text((left + 3.0, top + 13.5 + 6.0 * n), row, height=SMALL)

    def svg(self) -> str:
        """The whole sheet."""
        width, height = self.size
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
            f'viewBox="0 0 {width:g} {height:g}" role="img" aria-label="{escape(self._label)}">'
        )
        style = (
            f'<g fill="none" stroke="#000" stroke-linejoin="round" stroke-linecap="round" '
            f'font-family="{FONT}">'
        )
        paper = f'<rect width="{width:g}" height="{height:g}" fill="#fff"/>'
        body = "\n".join(self._body).replace("<text ", '<text fill="#000" stroke="none" ')
        return f"{head}\n{paper}\n{style}\n{body}\n</g>\n</svg>\n"


@dataclass(frozen=True)
class View:
    """A view on a sheet: from the part's millimetres (y up) to the paper's (y down)."""

    origin: Point
    scale: float

    def at(self, x: float, y: float) -> Point:
        """Where a point of the part lies on the paper."""
        return self.origin[0] + x * self.scale, self.origin[1] - y * self.scale

    def paths(self, lines: Iterable[Sequence[Point]]) -> list[list[Point]]:
        """Lines of the part on the paper."""
        return [[self.at(x, y) for x, y in line] for line in lines]
