"""The air at the pan from the cold junction's readings."""

import pytest

from drainscale.estimation.temperature_air import Air


def fed(*levels_C: float) -> Air:
    """Ten minutes at each level, one reading a second."""
    air = Air()
    for t in range(600 * len(levels_C)):
        air.add(float(t), levels_C[t // 600])
    return air


def test_before_a_reading_nothing_is_known() -> None:
    assert (Air().air_C, Air().soak_C) == (None, None)


def test_a_steady_cold_junction_is_the_air() -> None:
    assert fed(18.0).air_C == pytest.approx(18.0)


def test_half_of_what_the_pod_gains_is_the_air_s() -> None:
    assert fed(18.0, 20.0).air_C == pytest.approx(19.0, abs=0.01)


def test_the_soak_is_that_of_the_first_minute() -> None:
    assert fed(18.0, 25.0).soak_C == pytest.approx(18.0)


def test_a_single_odd_reading_is_smoothed() -> None:
    air = fed(18.0)
    air.add(600.0, 28.0)
    assert air.air_C == pytest.approx(18.1, abs=0.01)


def test_after_a_silence_the_next_reading_counts_in_full() -> None:
    air = fed(18.0)
    air.add(700.0, 22.0)
    assert air.air_C == pytest.approx(20.0, abs=0.01)
