"""What the page and the document are both made of: sections of plain blocks. Pure.

All texts are plain; whoever writes them out escapes them.
"""

from dataclasses import dataclass, field
from typing import Literal

from drainscale_server.record.drawing import Drawing

Tone = Literal["plain", "strong", "warning", "small"]


@dataclass(frozen=True, slots=True)
class Words:
    """A paragraph."""

    text: str
    tone: Tone = "plain"


@dataclass(frozen=True, slots=True)
class Facts:
    """Names and what they are; short ones may stand in two columns."""

    rows: tuple[tuple[str, str], ...]
    columns: int = 1


@dataclass(frozen=True, slots=True)
class Table:
    """A table with a head; the first column names the row.

    Attributes:
        caption: What it is, for who hears the page.
        widths: Share of the width of each column.
        figures: Columns of figures, set to the right.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...]
    figures: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Points:
    """A list."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Plot:
    """A drawing with its caption."""

    drawing: Drawing
    caption: str


Block = Words | Facts | Table | Points | Plot


@dataclass(frozen=True, slots=True)
class Section:
    """A titled part."""

    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """The whole record in words.

    Attributes:
        heading: Whose record it is: the shop's name, or the site's.
        footer: At the foot of each page, before "page n of m".
        alerts: What a reader must not miss: still open, aborted, not final.
    """

    title: str
    heading: str
    subtitle: str
    footer: str
    verdict: str
    is_level_set: bool
    alerts: tuple[str, ...] = ()
    sections: tuple[Section, ...] = field(default_factory=tuple)
