"""The first sure rise of the pan: the engine must be running.

The pan says so late (its lag) and softly (0.25 K steps), while draining, sun and a draught
move it too. So a rise counts only when it is high enough above the lowest level of the
last minutes *and* still going on at a pace that only an engine keeps up.
"""

from collections import deque
from typing import Final

from drainscale.estimation.temperature_start import Reading

_MEMORY_S: Final = 240.0  # slower changes than this are the room's
_RECENT_S: Final = 15.0
_PACE_OVER_S: Final = 45.0
_LEAST_PACE_K_PER_S: Final = 0.005  # 0.3 K a minute
_LEAST_RISE_K: Final = 0.5  # two steps; a door that warms the air by 4 K moves the skin less
_FOOT_K: Final = 0.15
_STILL_K: Final = 0.1  # over 45 s; the slowest engine does twice that


class RiseDetector:
    """Looks for the first sure rise in a stream of blocks."""

    def __init__(self) -> None:
        self._blocks: deque[Reading] = deque()

    def clear(self) -> None:
        """Forget what was seen: it was not the engine, or a new start is due."""
        self._blocks.clear()

    def add(self, reading: Reading) -> None:
        """Take in the newest block of pan readings."""
        self._blocks.append(reading)
        while reading.t - self._blocks[0].t > _MEMORY_S:
            self._blocks.popleft()

    def began_s(self) -> float | None:
        """When the rise began to show, s; None while there is no sure rise."""
        blocks = self._blocks
        if not blocks or blocks[-1].t - blocks[0].t < 2.0 * _RECENT_S:
            return None
        foot_C, foot_t = self._lowest()
        recent_C = self._mean_C(0.0, _RECENT_S)
        if recent_C is None or recent_C - foot_C < _LEAST_RISE_K or not self._keeps_rising():
            return None
        return self._began(foot_C, foot_t)

    def has_stopped(self) -> bool:
        """Whether the pan has stood still for the last minute: no engine does that."""
        before_C, recent_C = (
            self._mean_C(_PACE_OVER_S, _PACE_OVER_S + _RECENT_S),
            self._mean_C(0.0, _RECENT_S),
        )
        if before_C is None or recent_C is None:
            return False
        return recent_C - before_C < _STILL_K

    def _mean_C(self, from_s: float, to_s: float) -> float | None:
        """Mean of the blocks that are ``from_s`` up to ``to_s`` old."""
        now = self._blocks[-1].t
        part = [b.value_C for b in self._blocks if from_s <= now - b.t < to_s]
        return sum(part) / len(part) if part else None

    def _lowest(self) -> tuple[float, float]:
        """Lowest level over `_RECENT_S` and the time of its end."""
        level: deque[Reading] = deque()
        total, lowest, at = 0.0, float("inf"), 0.0
        for b in self._blocks:
            level.append(b)
            total += b.value_C
            while b.t - level[0].t >= _RECENT_S:
                total -= level.popleft().value_C
            is_full = b.t - level[0].t > 0.5 * _RECENT_S
            if is_full and total / len(level) <= lowest:
                lowest, at = total / len(level), b.t
        return lowest, at

    def _keeps_rising(self) -> bool:
        """Each third of the last `_PACE_OVER_S` lies above the one before, at a fair pace."""
        third = _PACE_OVER_S / 3.0
        old, middle, new = (self._mean_C(i * third, (i + 1) * third) for i in (2, 1, 0))
        if old is None or middle is None or new is None:
            return False
        return old < middle < new and new - old >= _LEAST_PACE_K_PER_S * 2.0 * third

    def _began(self, foot_C: float, foot_t: float) -> float:
        """When the blocks left the foot for good."""
        began = foot_t
        for b in self._blocks:
            if b.t > foot_t and b.value_C < foot_C + _FOOT_K:
                began = b.t
        return began
