"""Many points to few for a plot, without losing a spike. Pure.

The stretch is cut into columns of equal time; of each the first, the lowest, the highest and the
last point stay, with their own times. So whatever sticks out is drawn, and the line between the
columns runs where it ran.
"""

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
    for last in _column_ends(times_s, columns):
        places = range(first, last + 1)
        lowest = min(places, key=values.__getitem__)
        highest = max(places, key=values.__getitem__)
        kept += sorted({first, lowest, highest, last})
        first = last + 1
    return kept


def _column_ends(times_s: Sequence[float], columns: int) -> list[int]:
    """The last place of each column that holds a point."""
    begin_s = times_s[0]
    per_s = columns / ((times_s[-1] - begin_s) or 1.0)
    ends: list[int] = []
    column = 0
    for place, t in enumerate(times_s):
        here = min(int((t - begin_s) * per_s), columns - 1)
        if here != column and place:
            ends.append(place - 1)
        column = here
    return [*ends, len(times_s) - 1]
