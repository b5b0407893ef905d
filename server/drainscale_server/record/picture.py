"""A drawing within the document, as vectors."""

from reportlab.lib.colors import HexColor
from reportlab.platypus import Flowable

from drainscale_server.record.drawing import INK, STYLES, Area, Drawing, Label, Line
from drainscale_server.record.fonts import Letters


class Picture(Flowable):  # type: ignore[misc]  # reportlab ships no types
    """A drawing, scaled to a width.

    Args:
        drawing: What to draw.
        letters: For its texts.
        width: How wide it becomes.
    """

    def __init__(self, drawing: Drawing, letters: Letters, width: float) -> None:
        super().__init__()
        self._drawing, self._letters = drawing, letters
        self._scale = width / drawing.width
        self.width, self.height = width, drawing.height * self._scale

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """Tell how large it is."""
        return self.width, self.height

    def draw(self) -> None:
        """Draw it."""
        self.canv.scale(self._scale, self._scale)
        for shape in self._drawing.shapes:
            match shape:
                case Line(points=points, style=style):
                    self._path(points, style, is_area=False)
                case Area(points=points, style=style):
                    self._path(points, style, is_area=True)
                case Label():
                    self._label(shape)

    def _path(self, points: tuple[tuple[float, float], ...], name: str, *, is_area: bool) -> None:
        canvas, style = self.canv, STYLES[name]
        path = canvas.beginPath()
        for i, (x, y) in enumerate(points):
            (path.lineTo if i else path.moveTo)(x, self._drawing.height - y)
        if is_area:
            path.close()
        canvas.setLineWidth(style.width)
        canvas.setDash(*([list(style.dash)] if style.dash else []))
        if style.stroke:
            canvas.setStrokeColor(HexColor(style.stroke))
        if style.fill:
            canvas.setFillColor(HexColor(style.fill))
        has_fill = is_area and style.fill is not None
        canvas.drawPath(path, stroke=int(style.stroke is not None), fill=int(has_fill))

    def _label(self, label: Label) -> None:
        canvas = self.canv
        font = self._letters.bold if label.is_bold else self._letters.plain
        canvas.saveState()
        canvas.translate(label.x, self._drawing.height - label.y)
        if label.is_upright:
            canvas.rotate(90)
        canvas.setFont(font, label.size)
        canvas.setFillColor(HexColor(INK))
        draw = {
            "start": canvas.drawString,
            "middle": canvas.drawCentredString,
            "end": canvas.drawRightString,
        }[label.anchor]
        draw(0.0, 0.0, label.text)
        canvas.restoreState()
