"""Noise that hangs on the time alone: the same seed and time give the same value.

So a reading does not depend on who asked before, and a world that is set back says the same
again. The mixing is that of the public-domain SplitMix64 generator.
"""

from math import cos, log, pi, sqrt

_MASK = (1 << 64) - 1


def _mix(x: int) -> int:
    x = (x + 0x9E3779B97F4A7C15) & _MASK
    x = ((x ^ (x >> 30)) * 0xBF58476D1CE4E5B9) & _MASK
    x = ((x ^ (x >> 27)) * 0x94D049BB133111EB) & _MASK
    return x ^ (x >> 31)


def uniform_at(seed: int, t_s: float) -> float:
    """Draw from 0 (excluded) to 1 for a time, told apart to 1 µs."""
    return (_mix(_mix(seed) ^ round(t_s * 1e6)) + 1) / (1 << 64)


def normal_at(seed: int, t_s: float) -> float:
    """Draw from the standard normal distribution for a time (Box and Muller)."""
    word = _mix(_mix(seed) ^ round(t_s * 1e6))
    radius = sqrt(-2.0 * log(((word >> 32) + 1) / (1 << 32)))
    return radius * cos(2.0 * pi * (word & 0xFFFFFFFF) / (1 << 32))
