"""Figures of a load cell's conversions against made-up ones whose truth is known."""

import math
from random import Random

import pytest

from drainscale.agent.selftest.scale_data import (
    alias_Hz,
    amplitude_at,
    missed,
    noise,
    rate_Hz,
    slope_per_s,
    spikes,
)

TIMES_S = [0.1 * i for i in range(101)]


def test_rate_counts_periods_and_not_readings() -> None:
    gappy = [t for i, t in enumerate(TIMES_S) if i not in (20, 21, 50)]
    assert rate_Hz(gappy) == pytest.approx(10.0, rel=1e-9)
    assert missed(gappy) == 3
    assert missed(TIMES_S) == 0


def test_noise_is_the_standard_deviation_whatever_drifts_or_jumps_once() -> None:
    random = Random(1)
    values = [random.gauss(0.0, 0.3) + 0.05 * i for i in range(4000)]
    values[2000:] = [value + 500.0 for value in values[2000:]]
    assert noise(values) == pytest.approx(0.3, rel=0.05)


def test_spikes_are_readings_that_stand_alone() -> None:
    random = Random(2)
    values = [random.gauss(0.0, 0.2) for _ in range(200)]
    values[50] += 40.0
    values[120] -= 9.0
    values[150:] = [value + 30.0 for value in values[150:]]  # a load put on is none
    assert spikes(values) == 2


# Source: numpy.polyfit(x, y, 1, cov=True) of numpy 2 for these five points.
def test_slope_and_its_uncertainty_are_those_of_least_squares() -> None:
    slope, u = slope_per_s([0.0, 1.0, 2.0, 3.0, 4.0], [1.1, 2.98, 5.02, 7.1, 9.13])
    assert slope == pytest.approx(2.018, abs=1e-9)
    assert u == pytest.approx(0.02055886, rel=1e-6)


# Source: sampling theorem; 50 and 60 Hz at 80 samples/s fold to 30 and 20 Hz.
@pytest.mark.parametrize(
    ("mains_Hz", "sampled_Hz", "seen_Hz"),
    [(50.0, 80.0, 30.0), (60.0, 80.0, 20.0), (50.0, 10.3, 1.5), (50.0, 10.0, None)],
)
def test_hum_is_looked_for_where_it_folds_to(
    mains_Hz: float, sampled_Hz: float, seen_Hz: float | None
) -> None:
    assert alias_Hz(mains_Hz, sampled_Hz) == pytest.approx(seen_Hz)


def test_amplitude_of_hum_is_found_under_drift_and_noise() -> None:
    random = Random(3)
    times_s = [i / 80.0 for i in range(800)]
    values = [
        0.7 * math.sin(2.0 * math.pi * 50.0 * t + 0.4) + 0.2 * t + random.gauss(0.0, 0.3)
        for t in times_s
    ]
    assert amplitude_at(times_s, values, 30.0) == pytest.approx(0.7, abs=0.05)
    assert amplitude_at(times_s, values, 20.0) < 0.06
