"""The world's grid of time: steps of 20 ms, or of 100 ms where nothing moves.

Steps lie on the grid whoever asks and whenever, so that the world's course hangs on its seed and
on what the kit shows, not on how often it is looked at.
"""

from dataclasses import dataclass

TICK_S = 0.02
COARSE = 5  # ticks


@dataclass
class Clock:
    """Where the world stands on its grid, and how far it was asked to go."""

    tick: int = 0
    asked_s: float = 0.0

    @property
    def t(self) -> float:
        """Time of the last step, s."""
        return round(self.tick * TICK_S, 6)

    @property
    def is_on_tenth(self) -> bool:
        """Whether the grid is at a whole tenth of a second."""
        return self.tick % COARSE == 0

    def ask(self, t_s: float) -> None:
        """Note that somebody wants the world at `t_s`."""
        self.asked_s = max(self.asked_s, t_s)

    def next_ticks(self, is_quiet: bool) -> int:
        """How many ticks the next step may have; 0 if it would go beyond what was asked."""
        ticks = COARSE if is_quiet and self.is_on_tenth else 1
        return ticks if (self.tick + ticks) * TICK_S <= self.asked_s + 1e-9 else 0
