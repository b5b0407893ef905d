"""Gather what the comparison of many recordings gives, and reduce it to figures."""

import math
from collections import defaultdict
from collections.abc import Sequence


def quantile(values: Sequence[float], share: float) -> float:
    """Return the value below which a share of a sample lies.

    Args:
        values: The sample, in any order; at least one value.
        share: 0 to 1.

    Returns:
        The quantile, linear between the order statistics.

    Source:
        Hyndman and Fan, The American Statistician 50 (1996) 361, definition 7.
    """
    ordered = sorted(values)
    place = (len(ordered) - 1) * share
    below = min(int(place), max(len(ordered) - 2, 0))
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (ordered[above] - ordered[below]) * (place - below)


class Tally:
    """Values and counts, by name, over any number of recordings."""

    def __init__(self) -> None:
        self.values: defaultdict[str, list[float]] = defaultdict(list)
        self._hits: defaultdict[str, int] = defaultdict(int)
        self._of: defaultdict[str, int] = defaultdict(int)

    def add(self, name: str, value: float) -> None:
        """Add one value; one that is not finite is left out."""
        if math.isfinite(value):
            self.values[name].append(value)

    def count(self, name: str, hits: int, of: int = 1) -> None:
        """Count ``hits`` of ``of`` cases."""
        self._hits[name] += hits
        self._of[name] += of

    def merge(self, other: "Tally") -> None:
        """Add all that another tally holds."""
        for name, values in other.values.items():
            self.values[name].extend(values)
        for name, (hits, of) in other.counts().items():
            self.count(name, hits, of)

    def counts(self) -> dict[str, tuple[int, int]]:
        """Return hits and cases of each count."""
        return {name: (self._hits[name], of) for name, of in self._of.items()}

    def cases(self, name: str) -> int:
        """Return how many values or cases stand behind a name."""
        return len(self.values[name]) if name in self.values else self._of.get(name, 0)

    def share(self, name: str) -> float | None:
        """Return hits a case, ``None`` without cases."""
        of = self._of.get(name, 0)
        return self._hits[name] / of if of else None

    def reduced(self) -> dict[str, dict[str, float | int | None]]:
        """Return every name with its statistics, for a machine to read."""
        reduced: dict[str, dict[str, float | int | None]] = {}
        for name, values in self.values.items():
            reduced[name] = {
                "n": len(values),
                "mean": math.fsum(values) / len(values),
                "p5": quantile(values, 0.05),
                "median": quantile(values, 0.5),
                "p90": quantile(values, 0.9),
                "p95": quantile(values, 0.95),
                "max": max(values),
            }
        for name, (hits, of) in self.counts().items():
            reduced[name] = {"hits": hits, "of": of, "share": self.share(name)}
        return reduced
