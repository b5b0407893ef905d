"""A plot as plain shapes, drawn alike in HTML (``svg.py``) and PDF (``document.py``). Pure.

Lengths are in points (1/72 inch), y runs downward from the top. Styles have names, so that both
look the same; none is told apart by its colour alone.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import ceil, floor, log10
from typing import Literal

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True)
class Style:
    """How a shape is drawn: colours as #rrggbb, dash as lengths on and off, pt."""

    stroke: str | None = None
    width: float = 0.8
    dash: tuple[float, ...] = ()
    fill: str | None = None


STYLES = {
    "axis": Style("#333333", 0.8),
    "grid": Style("#d9d9d9", 0.4),
    "step": Style("#9a9a9a", 0.4, (1.0, 2.0)),
    "flow": Style("#0b4f8a", 1.2),
    "fill": Style("#0b4f8a", 1.0, (4.0, 2.0)),
    "limit": Style("#a33a00", 0.8, (6.0, 2.0, 1.0, 2.0)),
    "fluid": Style("#0b4f8a", 1.4),
    "band": Style(fill="#cfe0ef"),
    "pan": Style("#555555", 0.8, (1.0, 1.6)),
    "window": Style(fill="#f1ead2"),
    "plug": Style("#333333", 0.6, fill="#bdbdbd"),
    "opens": Style("#0b4f8a", 1.2),
    "opens-band": Style(fill="#cfe0ef"),
    "closes": Style("#a33a00", 1.2, (5.0, 2.0)),
    "closes-band": Style(fill="#f3ddd0"),
    "now": Style("#333333", 0.6, (1.0, 2.0)),
    "cue": Style("#333333", 0.5, fill="#ffffff"),
}
INK = "#1a1a1a"


@dataclass(frozen=True, slots=True)
class Line:
    """A line through points."""

    points: tuple[Point, ...]
    style: str


@dataclass(frozen=True, slots=True)
class Area:
    """A closed area."""

    points: tuple[Point, ...]
    style: str


@dataclass(frozen=True, slots=True)
class Label:
    """A text; ``x``, ``y`` is its anchor on the baseline."""

    x: float
    y: float
    text: str
    anchor: Anchor = "start"
    size: float = 7.0
    is_bold: bool = False
    is_upright: bool = False
    """Turned by 90°, to be read from the right."""


Shape = Line | Area | Label


@dataclass(slots=True)
class Drawing:
    """A picture of some shapes, with the words for who cannot see it."""

    width: float
    height: float
    title: str
    description: str
    shapes: list[Shape] = field(default_factory=list)

    def line(self, style: str, *points: Point) -> None:
        """Draw a line through points."""
        if len(points) > 1:
            self.shapes.append(Line(tuple(points), style))

    def area(self, style: str, *points: Point) -> None:
        """Fill an area."""
        self.shapes.append(Area(tuple(points), style))

    def box(self, style: str, left: float, top: float, right: float, bottom: float) -> None:
        """Fill a box."""
        self.area(style, (left, top), (right, top), (right, bottom), (left, bottom))


@dataclass(frozen=True, slots=True)
class Scale:
    """Values onto lengths; logarithmic if ``is_log``, then both values are above 0."""

    from_value: float
    to_value: float
    from_pt: float
    to_pt: float
    is_log: bool = False

    def at(self, value: float) -> float:
        """Tell where a value lies; what is outside lies on the edge."""
        low, high = self.from_value, self.to_value
        if low == high:  # all that is to be drawn is one value
            return self.from_pt
        held = min(max(value, low), high)
        if self.is_log:
            low, high, held = log10(low), log10(high), log10(held)
        return self.from_pt + (held - low) / (high - low) * (self.to_pt - self.from_pt)


def steps_of_ten(low: float, high: float) -> list[float]:
    """Powers of ten from one to another, both among them."""
    return [10.0**n for n in range(floor(log10(low) + 1e-9), ceil(log10(high) - 1e-9) + 1)]


def round_steps(low: float, high: float, most: int, sizes: Sequence[float]) -> list[float]:
    """Multiples of the first size that gives at most so many between two values."""
    for size in sizes:
        first, last = ceil(low / size - 1e-9), floor(high / size + 1e-9)
        if last - first + 1 <= most:
            return [n * size for n in range(first, last + 1)]
    return []


def runs(points: Iterable[tuple[float, float | None]], most_gap: float) -> list[list[Point]]:
    """Split a series where a value is missing or the next is too far away."""
    made: list[list[Point]] = []
    last_x: float | None = None
    for x, y in points:
        if y is None:
            last_x = None
            continue
        if last_x is None or x - last_x > most_gap:
            made.append([])
        made[-1].append((x, y))
        last_x = x
    return made


def thinned(points: Sequence[Point], column: float = 0.5) -> tuple[Point, ...]:
    """Keep first, lowest, highest and last of each column, so that no peak is lost."""
    made: list[Point] = []
    held: list[Point] = []
    for point in points:
        if held and floor(point[0] / column) != floor(held[0][0] / column):
            made += _extremes(held)
            held = []
        held.append(point)
    return tuple(made + _extremes(held))


def _extremes(held: Sequence[Point]) -> list[Point]:
    if len(held) <= 4:
        return list(held)
    inner = {
        held.index(min(held, key=lambda point: point[1])),
        held.index(max(held, key=lambda point: point[1])),
    }
    return [held[i] for i in sorted({0, len(held) - 1} | inner)]
