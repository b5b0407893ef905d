"""A small chart of the estimated fluid temperature, the window shaded."""

from collections.abc import Sequence

from rich.text import Text

AXIS_WIDTH = 7
LEAST_SPAN_K = 10.0


def chart(
    points: Sequence[tuple[float, float]],
    until_s: float,
    window_C: tuple[float, float],
    width: int,
    height: int,
) -> Text:
    """Draw temperatures over the whole service.

    Args:
        points: Time, s, and temperature, °C, in time order.
        until_s: Time at the right edge, s.
        window_C: Limits of the window.
        width: Columns, axis included.
        height: Rows.

    Returns:
        Rows from the hottest to the coldest.
    """
    columns = max(width - AXIS_WIDTH, 1)
    shown = _columns(points, until_s, columns)
    low_C = min([*shown.values(), window_C[0] - LEAST_SPAN_K])
    high_C = max([*shown.values(), window_C[1] + 2.0])
    step_K = (high_C - low_C) / height
    rows = {
        column: min(int((high_C - fluid_C) / step_K), height - 1)
        for column, fluid_C in shown.items()
    }
    text = Text(no_wrap=True)
    for row in range(height):
        middle_C = high_C - step_K * (row + 0.5)
        is_inside = window_C[0] <= middle_C <= window_C[1]
        text.append(f"{middle_C:3.0f} °C" if row % 2 == 0 else " " * 6, "dim")
        text.append(" ")
        for column in range(columns):
            if rows.get(column) == row:
                text.append("●", "bold blue" if is_inside else "bold")
            else:
                text.append("░" if is_inside else " ", "blue")
        text.append("\n")
    return text


def _columns(
    points: Sequence[tuple[float, float]], until_s: float, columns: int
) -> dict[int, float]:
    """Return the last temperature of each column; one without any takes that to its left."""
    filled: dict[int, float] = {}
    last = -1
    for t, fluid_C in points:
        column = min(int(t / max(until_s, 1.0) * columns), columns - 1)
        if last >= 0:
            filled.update(dict.fromkeys(range(last + 1, column), filled[last]))
        filled[column] = fluid_C
        last = column
    return filled
