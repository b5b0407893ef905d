"""What some seconds of a load cell's conversions tell about it: plain figures, no judgement."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean, median

from drainscale.ports import Clock, LoadCell

READ_S = 0.5  # how long one read may wait
MAINS_Hz = (50.0, 60.0)
_MAD_TO_SIGMA = 1.4826  # of a normal distribution
_LEAST_ALIAS_Hz = 0.5  # slower than this it cannot be told from drift
_SPIKE_SIGMAS = 10.0


@dataclass(frozen=True, slots=True)
class Conversions:
    """Conversions with their times, s; ``dropped`` counts the frames that were invalid."""

    times_s: tuple[float, ...]
    counts: tuple[int, ...]
    dropped: int = 0

    def __len__(self) -> int:
        return len(self.counts)


def collect(cell: LoadCell, clock: Clock, duration_s: float) -> Conversions:
    """Read for so long.

    Raises:
        SensorError: The device cannot be used.
    """
    times_s: list[float] = []
    counts: list[int] = []
    dropped_before = cell.frames_dropped
    end_s = clock.now_s() + duration_s
    while clock.now_s() < end_s:
        count = cell.read(READ_S)
        if count is not None:
            times_s.append(clock.now_s())
            counts.append(count)
    return Conversions(tuple(times_s), tuple(counts), cell.frames_dropped - dropped_before)


def rate_Hz(times_s: Sequence[float]) -> float:
    """Tell the converter's own rate, however many conversions were missed.

    The median interval says how many periods each longer one holds; then the whole span counts.
    """
    intervals_s = [after - before for before, after in pairwise(times_s)]
    period_s = median(intervals_s)
    periods = sum(max(round(interval_s / period_s), 1) for interval_s in intervals_s)
    return periods / (times_s[-1] - times_s[0])


def missed(times_s: Sequence[float]) -> int:
    """Count the conversions that came between the first and the last and were not read."""
    period_s = 1.0 / rate_Hz(times_s)
    return sum(max(round((b - a) / period_s) - 1, 0) for a, b in pairwise(times_s))


def noise(values: Sequence[float]) -> float:
    """Standard deviation from reading to reading, which neither drift nor single spikes move.

    From the median size of successive differences; those of white noise are wider by root 2.
    """
    steps = [abs(after - before) for before, after in pairwise(values)]
    return median(steps) * _MAD_TO_SIGMA / math.sqrt(2.0)


def spikes(values: Sequence[float]) -> int:
    """Count the readings that stand alone, far from both neighbours, as bit errors do."""
    limit = max(_SPIKE_SIGMAS * noise(values), 1e-12)
    return sum(
        min(abs(here - before), abs(here - after)) > limit and (here > before) == (here > after)
        for before, here, after in zip(values, values[1:], values[2:], strict=False)
    )


def slope_per_s(times_s: Sequence[float], values: Sequence[float]) -> tuple[float, float]:
    """Fit a straight line; return its slope and that slope's standard uncertainty."""
    mean_s, mean = fmean(times_s), fmean(values)
    spread = sum((t - mean_s) ** 2 for t in times_s)
    slope = sum((t - mean_s) * (v - mean) for t, v in zip(times_s, values, strict=True)) / spread
    rest = sum((v - mean - slope * (t - mean_s)) ** 2 for t, v in zip(times_s, values, strict=True))
    return slope, math.sqrt(rest / max(len(values) - 2, 1) / spread)


def alias_Hz(mains_Hz: float, sampled_Hz: float) -> float | None:
    """Tell where hum of the mains appears in sampled data; None: too near to standing still."""
    found_Hz = abs(mains_Hz - round(mains_Hz / sampled_Hz) * sampled_Hz)
    return found_Hz if found_Hz >= _LEAST_ALIAS_Hz else None


def amplitude_at(times_s: Sequence[float], values: Sequence[float], frequency_Hz: float) -> float:
    """Amplitude of a sine of this frequency in the values, their straight line taken out."""
    slope, _ = slope_per_s(times_s, values)
    mean_s, mean = fmean(times_s), fmean(values)
    sine = cosine = 0.0
    for t, value in zip(times_s, values, strict=True):
        rest = value - mean - slope * (t - mean_s)
        sine += rest * math.sin(2.0 * math.pi * frequency_Hz * t)
        cosine += rest * math.cos(2.0 * math.pi * frequency_Hz * t)
    return 2.0 * math.hypot(sine, cosine) / len(values)
