"""The foot of each page: whose record it is, and "page n of m"."""

from dataclasses import dataclass
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from drainscale_server.record.fonts import Letters

HAIR = HexColor("#c4c4c4")
MUTED = HexColor("#444444")
SIZE = 7.2


@dataclass(frozen=True, slots=True)
class Setting:
    """What stands at the foot of each page, and where."""

    footer: str
    letters: Letters
    margin: float
    foot: float


class PagedCanvas(Canvas):  # type: ignore[misc]  # reportlab ships no types
    """Writes "page n of m" when it knows m: at the end.

    Args:
        setting: The foot of each page.
        args, named: For reportlab.
    """

    def __init__(self, setting: Setting, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self._setting = setting
        self._pages: list[dict[str, Any]] = []

    def showPage(self) -> None:
        """Put a page by instead of writing it out."""
        self._pages.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        """Write all pages out, each with its foot."""
        pages = self._pages
        for n, page in enumerate(pages, start=1):
            self.__dict__.update(page)
            self._foot(n, len(pages))
            super().showPage()
        super().save()

    def _foot(self, n: int, of: int) -> None:
        setting, y = self._setting, self._setting.foot - 20.0
        right = self._pagesize[0] - setting.margin
        self.setStrokeColor(HAIR)
        self.setLineWidth(0.5)
        self.line(setting.margin, y + 11.0, right, y + 11.0)
        self.setFillColor(MUTED)
        number = f"page {n} of {of}"
        self.setFont(setting.letters.plain, SIZE)
        self.drawRightString(right, y, number)
        room = right - setting.margin - stringWidth(number, setting.letters.plain, SIZE) - 12.0
        x = setting.margin
        for font, text in setting.letters.runs(setting.footer):
            shown = _cut(text, font, room - (x - setting.margin))
            self.setFont(font, SIZE)
            self.drawString(x, y, shown)
            x += stringWidth(shown, font, SIZE)


def _cut(text: str, font: str, room: float) -> str:
    while text and stringWidth(text, font, SIZE) > room:
        text = text[: -max(1, len(text) // 20)]
    return text
