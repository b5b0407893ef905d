"""Blocks as reportlab's flowables."""

from collections.abc import Iterator

from reportlab.lib.colors import HexColor
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Paragraph, Spacer
from reportlab.platypus import Table as FlowTable

from drainscale_server.record import wording as words
from drainscale_server.record.blocks import Block, Facts, Plot, Points, Section, Sheet, Table, Words
from drainscale_server.record.drawing import INK
from drainscale_server.record.fonts import Letters
from drainscale_server.record.foot import HAIR, MUTED
from drainscale_server.record.picture import Picture

RULE = HexColor("#333333")
SHADE = HexColor("#f0f0f0")
SIZES = {"plain": 8.5, "strong": 8.5, "warning": 8.5, "small": 7.2}
SECTION_NEEDS = 70.0  # no title alone at the foot of a page
KEPT_ROWS = 20  # facts that are not parted over two pages


class Painter:
    """Makes flowables of blocks.

    Args:
        letters: Fonts.
        width: Of the text.
    """

    def __init__(self, letters: Letters, width: float) -> None:
        self._letters, self._width = letters, width

    def story(self, sheet: Sheet) -> list[Flowable]:
        """Make a sheet's flowables."""
        made = [*self._head(sheet)]
        for section in sheet.sections:
            made += self._section(section)
        if self._letters.missing:
            numbers = ", ".join(f"U+{code:04X}" for code in self._letters.missing)
            made.append(self._text(words.MISSING_LETTERS + numbers, 7.2))
        return made

    def _head(self, sheet: Sheet) -> Iterator[Flowable]:
        yield self._text(sheet.heading, 16.0, is_bold=True)
        yield Spacer(1.0, 3.0)
        yield self._text(f"{sheet.title} · {sheet.subtitle}", 9.5)
        yield Spacer(1.0, 8.0)
        for alert in sheet.alerts:
            yield self._boxed(alert, 2.0)
            yield Spacer(1.0, 4.0)
        yield self._boxed(sheet.verdict, 0.8 if sheet.is_level_set else 2.0)

    def _boxed(self, text: str, rule: float) -> Flowable:
        table = FlowTable([[self._text(text, 11.0, is_bold=True)]], colWidths=[self._width])
        table.setStyle([("BOX", (0, 0), (-1, -1), rule, RULE), ("TOPPADDING", (0, 0), (-1, -1), 6)])
        return table

    def _section(self, section: Section) -> Iterator[Flowable]:
        title = [Spacer(1.0, 9.0), self._text(section.title, 11.0, is_bold=True), Spacer(1.0, 3.0)]
        first, rest = section.blocks[0], section.blocks[1:]
        if isinstance(first, Facts) and len(first.rows) <= KEPT_ROWS:
            yield KeepTogether([*title, *self._block(first)])
        else:
            yield CondPageBreak(SECTION_NEEDS)
            yield from title
            yield from self._block(first)
        yield Spacer(1.0, 6.0)
        for block in rest:
            yield from self._block(block)
            yield Spacer(1.0, 5.0)

    def _block(self, block: Block) -> Iterator[Flowable]:
        match block:
            case Words(text=text, tone=tone):
                yield self._text(text, SIZES[tone], is_bold=tone in ("strong", "warning"))
            case Facts():
                yield self._facts(block)
            case Table():
                yield self._text(block.caption, 7.8, stays=True)
                yield Spacer(1.0, 2.0)
                yield self._table(block)
            case Points(items=items):
                for item in items:
                    yield self._text(f"• {item}", 8.5, indent=9.0)
            case Plot(drawing=drawing, caption=caption):
                picture = Picture(drawing, self._letters, self._width)
                title = self._text(drawing.title, 8.5, is_bold=True)
                yield KeepTogether([title, picture, self._text(caption, 7.2)])

    def _facts(self, facts: Facts) -> Flowable:
        cells = [
            [self._text(name, 8.5, is_muted=True), self._text(value, 8.5)]
            for name, value in facts.rows
        ]
        height = -(-len(cells) // facts.columns)
        cells += [["", ""]] * (height * facts.columns - len(cells))
        rows = [
            [cell for column in range(facts.columns) for cell in cells[row + column * height]]
            for row in range(height)
        ]
        widths = [0.32 * self._width, 0.68 * self._width]
        if facts.columns == 2:
            widths = [share * self._width for share in (0.19, 0.32, 0.17, 0.32)]
        table = FlowTable(rows, colWidths=widths, splitInRow=1)
        table.setStyle(
            [
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("TOPPADDING", (0, 0), (-1, -1), 1.5),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
                ("LINEBELOW", (0, 0), (-1, -1), 0.3, HAIR),
            ]
        )
        return table

    def _table(self, table: Table) -> Flowable:
        def cells(row: tuple[str, ...], *, is_head: bool) -> list[Flowable]:
            return [
                self._text(text, 8.0, is_bold=is_head, is_right=i in table.figures)
                for i, text in enumerate(row)
            ]

        rows = [cells(table.head, is_head=True)]
        rows += [cells(row, is_head=False) for row in table.rows]
        widths = [share * self._width for share in table.widths]
        made = FlowTable(rows, colWidths=widths, repeatRows=1, splitInRow=1)
        made.setStyle(
            [
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("BACKGROUND", (0, 0), (-1, 0), SHADE),
                ("LINEABOVE", (0, 0), (-1, 0), 0.8, RULE),
                ("LINEBELOW", (0, 0), (-1, -1), 0.3, HAIR),
                ("LINEBELOW", (0, -1), (-1, -1), 0.8, RULE),
                ("LEFTPADDING", (0, 0), (-1, -1), 3),
                ("RIGHTPADDING", (0, 0), (-1, -1), 3),
                ("TOPPADDING", (0, 0), (-1, -1), 2),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
            ]
        )
        return made

    def _text(
        self,
        text: str,
        size: float,
        *,
        is_bold: bool = False,
        is_right: bool = False,
        is_muted: bool = False,
        stays: bool = False,
        indent: float = 0.0,
    ) -> Paragraph:
        letters = self._letters
        style = ParagraphStyle(
            "text",
            fontName=letters.bold if is_bold else letters.plain,
            fontSize=size,
            leading=1.28 * size,
            alignment=2 if is_right else 0,
            textColor=MUTED if is_muted else HexColor(INK),
            keepWithNext=int(stays),
            leftIndent=indent,
            firstLineIndent=-indent,
        )
        return Paragraph(letters.markup(text, is_bold=is_bold), style)
