"""What a part is worth: how each figure moves without it, in units of its limit."""

from dataclasses import dataclass

from drainscale_sim.ablation.part import Part
from drainscale_sim.ablation.runs import Run
from drainscale_sim.score.figures import Figure
from drainscale_sim.score.grade import Graded

LEAST = 0.03  # of the limit: less is not told
SHARE_SCALE = 10.0  # a share of cases that falls by so many per cent counts as one limit


@dataclass(frozen=True, slots=True)
class Move:
    """One figure with and without the part."""

    figure: Figure
    before: float
    after: float
    cost: float  # above 0: worse without the part
    loses_must: bool
    gains_must: bool


@dataclass(frozen=True, slots=True)
class Finding:
    """What one part is worth."""

    part: Part
    moves: tuple[Move, ...]  # dearest first
    changed: int
    failed: int
    recordings: int

    @property
    def musts_lost(self) -> int:
        """Figures that no longer keep their must."""
        return sum(move.loses_must for move in self.moves)


def compare(part: Part, before: Run, after: Run) -> Finding:
    """Hold a run without a part against the full one."""
    moves = [
        move
        for name, graded in before.grades.items()
        if (move := _move(graded, after.grades[name])) is not None
    ]
    moves.sort(key=lambda move: (-move.loses_must, -move.cost))
    return Finding(
        part, tuple(moves), before.changed(after), len(after.failed), len(before.answers)
    )


def _move(before: Graded, after: Graded) -> Move | None:
    figure = before.figure
    if before.value is None or after.value is None:
        return None
    cost = badness(figure, after.value) - badness(figure, before.value)
    loses = before.keeps_must is True and after.keeps_must is False
    gains = before.keeps_must is False and after.keeps_must is True
    if abs(cost) < LEAST and not loses and not gains:
        return None
    return Move(figure, before.value, after.value, cost, loses, gains)


def badness(figure: Figure, value: float) -> float:
    """How bad a value is, 1 being as far as its limit; only differences mean something."""
    low, high = figure.must.low, figure.must.high
    if figure.unit == "%":
        if low is not None:
            return (low - value) / SHARE_SCALE if high is None else max(low - value, 0.0)
        return value / SHARE_SCALE
    if high is not None:
        return value / high if high > 0.0 else value
    return (low - value) / low if low else 0.0
