"""Pair what was told with what was true, by time."""

from collections.abc import Iterable, Sequence

Stretch = tuple[float, float]


def nearest(times: Iterable[float], true_s: float, within_s: float) -> float | None:
    """Return the time nearest to the true one, if it is less than ``within_s`` away."""
    best = min(times, key=lambda t: abs(t - true_s), default=None)
    return best if best is not None and abs(best - true_s) < within_s else None


def joined(stretches: Iterable[Stretch], gap_s: float) -> list[Stretch]:
    """Merge stretches of time that overlap or lie less than ``gap_s`` apart."""
    merged: list[Stretch] = []
    for start_s, end_s in sorted(stretches):
        if merged and start_s < merged[-1][1] + gap_s:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end_s))
        else:
            merged.append((start_s, end_s))
    return merged


def widened(stretches: Iterable[Stretch], before_s: float, after_s: float) -> list[Stretch]:
    """Grow stretches of time at both ends."""
    return [(start_s - before_s, end_s + after_s) for start_s, end_s in stretches]


def outside(times: Iterable[float], stretches: Sequence[Stretch]) -> int:
    """Count the times that lie in none of the stretches."""
    return sum(not any(start <= t <= end for start, end in stretches) for t in times)
