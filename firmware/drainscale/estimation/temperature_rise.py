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


class RiseDetector:
    """Looks for the first sure rise in a stream of blocks."""

    def __init__(self) -> None:
        self._blocks: deque[Reading] = deque()

    def clear(self) -> None:
        """Forget what was seen: it was not the engine, or a new start is due."""
        self._blocks.clear()

    def add(self, reading: Reading) -> float | None:
        """Take in the newest block of pan readings.

        Returns:
            The time at which the rise began to show (before now), once it is sure.
        """
        blocks = self._blocks
        blocks.append(reading)
        while reading.t - blocks[0].t > _MEMORY_S:
            blocks.popleft()
        if reading.t - blocks[0].t < 2.0 * _RECENT_S:
            return None
        recent = [b.value_C for b in blocks if reading.t - b.t < _RECENT_S]
        foot_C, foot_t = self._lowest()
        rise_K = sum(recent) / len(recent) - foot_C
        if rise_K < _LEAST_RISE_K or not self._keeps_rising(reading.t):
            return None
        return self._began(foot_C, foot_t)

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

    def _keeps_rising(self, now: float) -> bool:
        """Each third of the last `_PACE_OVER_S` lies above the one before, at a fair pace."""
        third = _PACE_OVER_S / 3.0
        means = []
        for i in (2, 1, 0):
            part = [b.value_C for b in self._blocks if i * third <= now - b.t < (i + 1) * third]
            if not part:
                return False
            means.append(sum(part) / len(part))
        pace = (means[2] - means[0]) / (2.0 * third)
        return means[0] < means[1] < means[2] and pace >= _LEAST_PACE_K_PER_S

    def _began(self, foot_C: float, foot_t: float) -> float:
        """When the blocks left the foot for good."""
        began = foot_t
        for b in self._blocks:
            if b.t > foot_t and b.value_C < foot_C + _FOOT_K:
                began = b.t
        return began
