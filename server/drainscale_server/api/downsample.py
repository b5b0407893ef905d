"""Many points to few for a plot, without losing a spike. Pure.

The stretch is cut into columns of equal time; of each the first, the lowest, the highest and the
last point stay, with their own times. So whatever sticks out is drawn, and the line between the
columns runs where it ran.
"""

from bisect import bisect_left
from collections.abc import Sequence

PER_COLUMN = 4


def kept_places(times_s: Sequence[float], values: Sequence[float], columns: int) -> list[int]:
    """Choose the points that stay.

    Args:
        times_s: Not falling. Shape (n,).
        values: Shape (n,).
        columns: How many columns; at least 1.

    Returns:
        Their places, rising; all where there are not more points than would stay.

    Raises:
        ValueError: Unequal lengths, or less than one column.
    """
    if len(times_s) != len(values) or columns < 1:
        raise ValueError(f"{len(times_s)} times, {len(values)} values, {columns} columns")
    if len(times_s) <= PER_COLUMN * columns:
        return list(range(len(times_s)))
    kept: list[int] = []
    first = 0
    for end in _column_ends(times_s, columns):
        part = values[first:end]
        lowest, highest = first + part.index(min(part)), first + part.index(max(part))
        kept += sorted({first, lowest, highest, end - 1})
        first = end
    return kept


def _column_ends(times_s: Sequence[float], columns: int) -> list[int]:
    """Behind the last place of each column that holds a point."""
    begin_s, width_s = times_s[0], (times_s[-1] - times_s[0]) / columns
    ends: list[int] = []
    for column in range(1, columns):
        end = bisect_left(times_s, begin_s + column * width_s, lo=ends[-1] if ends else 0)
        if end > (ends[-1] if ends else 0):
            ends.append(end)
    return ends if ends and ends[-1] == len(times_s) else [*ends, len(times_s)]
