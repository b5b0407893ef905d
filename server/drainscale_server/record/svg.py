"""A drawing as inline SVG: presentation attributes only, so that no style needs to be allowed."""

from html import escape

from drainscale_server.record.drawing import INK, STYLES, Area, Drawing, Label, Line, Shape


def svg(drawing: Drawing, name: str) -> str:
    """Write a drawing.

    Args:
        drawing: What to draw.
        name: For the ids of its title and description; unique on the page.
    """
    size = f"{drawing.width:g} {drawing.height:g}"
    return (
        f'<svg viewBox="0 0 {size}" role="img" aria-labelledby="{name}-title {name}-words"'
        ' class="plot">'
        f'<title id="{name}-title">{escape(drawing.title)}</title>'
        f'<desc id="{name}-words">{escape(drawing.description)}</desc>'
        + "".join(map(_shape, drawing.shapes))
        + "</svg>"
    )


def _shape(shape: Shape) -> str:
    match shape:
        case Line(points=points, style=style):
            return f'<polyline points="{_points(points)}" {_look(style, is_area=False)}/>'
        case Area(points=points, style=style):
            return f'<polygon points="{_points(points)}" {_look(style, is_area=True)}/>'
        case Label():
            return _label(shape)


def _points(points: tuple[tuple[float, float], ...]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)


def _look(name: str, *, is_area: bool) -> str:
    style = STYLES[name]
    said = [f'fill="{style.fill if is_area and style.fill else "none"}"']
    if style.stroke:
        said.append(f'stroke="{style.stroke}" stroke-width="{style.width:g}"')
    if style.dash:
        said.append(f'stroke-dasharray="{" ".join(f"{one:g}" for one in style.dash)}"')
    return " ".join(said)


def _label(label: Label) -> str:
    turned = f' transform="rotate(-90 {label.x:.1f} {label.y:.1f})"' if label.is_upright else ""
    bold = ' font-weight="bold"' if label.is_bold else ""
    return (
        f'<text x="{label.x:.1f}" y="{label.y:.1f}" font-size="{label.size:g}" fill="{INK}"'
        f' text-anchor="{label.anchor}"{bold}{turned}>{escape(label.text)}</text>'
    )
