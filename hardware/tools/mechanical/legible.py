# SPDX-License-Identifier: Apache-2.0
"""Whether the texts of a drawing can be read.

None runs into another, none leaves the paper, no line of a dimension or pointer strikes one out.
"""

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, pairwise
from xml.etree import ElementTree

Spot = tuple[float, float]

_WIDE = 0.56  # of its height: a letter of the drawings' fonts, on average
_THIN = "0.13"  # the lines that are not the part's own
_SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True)
class Written:
    """A text and about the box it takes, mm; y down."""

    words: str
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: "Written") -> bool:
        """Whether the two boxes overlap."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def is_crossed(self, start: Spot, end: Spot) -> bool:
        """Whether a line runs through the letters; looked at every tenth of a millimetre."""
        steps = max(2, int(10.0 * math.dist(start, end)))
        (x0, y0), (x1, y1) = start, end
        points = ((x0 + (x1 - x0) * n / steps, y0 + (y1 - y0) * n / steps) for n in range(steps))
        low = self.bottom - 0.2 * (self.bottom - self.top)  # below the base line are few letters
        return any(self.left < x < self.right and self.top < y < low for x, y in points)


def written(svg: str) -> Iterator[Written]:
    """Find the texts of a drawing made by ``sheet.Sheet``."""
    for text in ElementTree.fromstring(svg).iter(f"{_SVG}text"):
        words = "".join(text.itertext())
        x, y, height = (float(text.get(name, "0")) for name in ("x", "y", "font-size"))
        wide = len(words) * height * _WIDE
        before = {"start": 0.0, "middle": wide / 2.0, "end": wide}[text.get("text-anchor", "start")]
        if re.match(r"rotate\(-90", text.get("transform", "")):
            yield Written(words, x - height * 0.75, y + before - wide, x + height * 0.2, y + before)
        else:
            yield Written(words, x - before, y - height * 0.75, x - before + wide, y + height * 0.2)


def tight_texts(svg: str) -> list[tuple[str, str]]:
    """Pairs of texts that run into each other, and texts beyond the paper."""
    view = ElementTree.fromstring(svg).get("viewBox", "0 0 0 0")
    width, height = (float(value) for value in view.split()[2:])
    texts = list(written(svg))
    found = [
        (one.words, "beyond the paper")
        for one in texts
        if one.left < 0.0 or one.top < 0.0 or one.right > width or one.bottom > height
    ]
    pairs = combinations(texts, 2)
    return found + [(one.words, other.words) for one, other in pairs if one.meets(other)]


def struck_texts(svg: str) -> list[str]:
    """Texts that a line runs through: centre lines, dimensions, pointers, outlines of plates."""
    top, texts = ElementTree.fromstring(svg), list(written(svg))
    lines = [*_thin_lines(top), *_plate_edges(top)]
    return [text.words for text in texts if any(text.is_crossed(*line) for line in lines)]


def _thin_lines(top: ElementTree.Element) -> Iterator[tuple[Spot, Spot]]:
    for path in top.iter(f"{_SVG}path"):
        ends = re.fullmatch(r"M(\S+) (\S+) L(\S+) (\S+)", path.get("d", ""))
        if ends and path.get("stroke-width") == _THIN:
            x0, y0, x1, y1 = map(float, ends.groups())
            yield (x0, y0), (x1, y1)


def _plate_edges(top: ElementTree.Element) -> Iterator[tuple[Spot, Spot]]:
    for box in top.iter(f"{_SVG}rect"):
        x, y, wide, high = (float(box.get(name, "0")) for name in ("x", "y", "width", "height"))
        corners = [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]
        yield from pairwise([*corners, corners[0]])
