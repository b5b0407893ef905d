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
    text = Text(no_wrap=True)
    for row in range(height):
        bottom_C = high_C - step_K * (row + 1)
        middle_C = bottom_C + step_K / 2.0
        is_inside = window_C[0] <= middle_C <= window_C[1]
        text.append(f"{middle_C:3.0f} °C" if row % 2 == 0 else " " * 6, "dim")
        text.append(" ")
        for column in range(columns):
            is_here = column in shown and bottom_C <= shown[column] < bottom_C + step_K + 1e-9
            if is_here:
                text.append("●", "bold blue" if is_inside else "bold")
            else:
                text.append("░" if is_inside else " ", "blue")
        text.append("\n")
    return text


def _columns(
    points: Sequence[tuple[float, float]], until_s: float, columns: int
) -> dict[int, float]:
    """Return the last temperature of each column that has one."""
    last = {}
    for t, fluid_C in points:
        last[min(int(t / max(until_s, 1.0) * columns), columns - 1)] = fluid_C
    return last
