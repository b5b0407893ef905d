"""The air at the pan, from the converter's cold junction.

The pod warms up during a job, by its own current and by the vehicle above it, and so does
the air: half of what it gained since the first minute is taken for the air's.
"""

from typing import Final

_SMOOTH_S: Final = 50.0
_SOAK_S: Final = 40.0
_SHARE: Final = 0.5


class Air:
    """Smooth the cold-junction readings into one air temperature."""

    def __init__(self) -> None:
        self._board_C: float | None = None
        self._t = 0.0
        self._count = 0
        self._first_t = 0.0
        self._soak_C = 0.0

    def add(self, t: float, board_C: float) -> None:
        """Take in a cold-junction reading (s, °C)."""
        if self._board_C is None:
            self._board_C, self._first_t = board_C, t
        else:
            self._board_C += (board_C - self._board_C) * min(1.0, (t - self._t) / _SMOOTH_S)
        self._t = t
        if t - self._first_t <= _SOAK_S:
            self._count += 1
            self._soak_C += (board_C - self._soak_C) / self._count

    @property
    def soak_C(self) -> float | None:
        """Mean of the first readings, °C: the air that the vehicle stood in."""
        return self._soak_C if self._count else None

    @property
    def air_C(self) -> float | None:
        """Air at the pan now, °C; None before the first reading."""
        if self._board_C is None:
            return None
        return self._soak_C + _SHARE * (self._board_C - self._soak_C)
