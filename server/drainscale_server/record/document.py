"""The sheet as PDF: A4 or US letter, plots as vectors, the same bytes for the same sheet."""

import threading
from collections.abc import Callable
from io import BytesIO
from typing import Any

from reportlab.lib.pagesizes import A4, LETTER
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate

from drainscale_server.record.blocks import Sheet
from drainscale_server.record.fonts import Face, Letters, faces
from drainscale_server.record.foot import PagedCanvas, Setting
from drainscale_server.record.pages import Painter

PAPERS = {"a4": A4, "letter": LETTER}
MARGIN = 48.0
FOOT = 54.0

# reportlab keeps its parser of markup and its fonts for the whole process
_one_at_a_time = threading.Lock()


def document(sheet: Sheet, paper: str = "a4", chosen: tuple[Face, ...] | None = None) -> bytes:
    """Write a sheet as PDF.

    Args:
        sheet: What to write.
        paper: One of ``PAPERS``.
        chosen: Fonts in order of preference; by default those that are there.

    Raises:
        KeyError: No such paper.
    """
    with _one_at_a_time:
        return _document(sheet, PAPERS[paper], Letters(chosen or faces()))


def _document(sheet: Sheet, size: tuple[float, float], letters: Letters) -> bytes:
    width, height = size
    room = Frame(
        MARGIN,
        FOOT,
        width - 2.0 * MARGIN,
        height - MARGIN - FOOT,
        leftPadding=0.0,
        rightPadding=0.0,
        topPadding=0.0,
        bottomPadding=0.0,
    )
    file = BytesIO()
    made = BaseDocTemplate(
        file,
        pagesize=size,
        pageTemplates=[PageTemplate("page", [room])],
        title=f"{sheet.title}: {sheet.subtitle}",
        author=sheet.heading,
        subject=sheet.verdict,
        creator="drainscale",
        lang="en",
        invariant=1,
    )
    painter = Painter(letters, width - 2.0 * MARGIN)
    story: list[Flowable] = painter.story(sheet)
    setting = Setting(sheet.footer, letters, MARGIN, FOOT)
    made.build(story, canvasmaker=_canvas_with(setting))
    return file.getvalue()


def _canvas_with(setting: Setting) -> Callable[..., PagedCanvas]:
    def make(*args: Any, **named: Any) -> PagedCanvas:
        return PagedCanvas(setting, *args, **named)

    return make
