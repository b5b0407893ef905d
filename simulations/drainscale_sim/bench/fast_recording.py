"""A long recording of a fast converter, made from one of ten readings a second."""

import random
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from math import sqrt
from statistics import median

from drainscale.quantities.job import Job
from drainscale.quantities.samples import Sample, ScaleCount
from drainscale.recording.records import Recording

RATE_HZ = 80.0
LASTS_S = 2700.0
# a converter that is eight times as fast averages less: its noise against that of 10 Hz, as the
# data sheets of 24-bit bridge converters have it (about the root of eight)
NOISE_RATIO = 2.8
SEED = 4


def made_fast(recording: Recording, job: Job) -> tuple[Recording, Job]:
    """Stretch a recording to 45 minutes and read its scale 80 times a second.

    Between two readings the scale goes straight on, with fresh noise on top; a hole stays a
    hole. Everything else is what it was, later in proportion.
    """
    stretch = LASTS_S / recording.samples[-1].t
    slow = [one for one in recording.samples if isinstance(one, ScaleCount) and not one.is_supply]
    rest = [one for one in recording.samples if not isinstance(one, ScaleCount)]
    fast = _between(slow, stretch, 2.0 / job.scale.rate_Hz)
    later: list[Sample] = [replace(one, t=round(one.t * stretch, 6)) for one in rest]
    samples = sorted([*fast, *later], key=lambda one: one.t)
    made = Recording(recording.name, recording.base_time_s, samples)
    return made, replace(job, scale=replace(job.scale, rate_Hz=RATE_HZ))


def _between(slow: Sequence[ScaleCount], stretch: float, hole_s: float) -> list[ScaleCount]:
    noise = random.Random(SEED)
    sigma = NOISE_RATIO * _noise_counts(slow)
    fast = []
    for a, b in pairwise(slow):
        if b.t - a.t > hole_s:
            continue
        n = max(round((b.t - a.t) * stretch * RATE_HZ), 1)
        for i in range(n):
            share = i / n
            t = (a.t + share * (b.t - a.t)) * stretch
            count = a.count + share * (b.count - a.count) + noise.gauss(0.0, sigma)
            fast.append(ScaleCount(round(t, 6), round(count)))
    return fast


def _noise_counts(slow: Sequence[ScaleCount]) -> float:
    """Standard deviation of one reading, by the median step from one to the next.

    0.6745 is the median size of a standard normal deviate; a step holds the noise of two.
    """
    steps = [abs(b.count - a.count) for a, b in pairwise(slow)]
    return median(steps) / 0.6745 / sqrt(2.0)
