"""Calibration: piecewise-linear reading and the weights' part of the uncertainty."""

from math import inf, nan, sqrt

import pytest
from GTC import ureal
from hypothesis import given
from hypothesis import strategies as st

from drainscale.errors import QuantityError
from drainscale.quantities.calibration import Calibration
from drainscale.quantities.job import ScaleSettings

MASSES = (0.0, 2.0, 5.0, 10.0)
COUNTS = (10_000.0, 410_000.0, 1_012_000.0, 2_010_000.0)
POINTS = list(zip(COUNTS, MASSES, strict=True))


def scale(
    masses: tuple[float, ...] = MASSES,
    counts: tuple[float, ...] = COUNTS,
    u_kg: float = 0.0005,
    repeatability_kg: float = 0.0004,
) -> Calibration:
    return Calibration(ScaleSettings(20.0, 10.0, masses, counts, u_kg, repeatability_kg))


def falling() -> Calibration:
    return scale(counts=tuple(-c for c in COUNTS))


readings_kg = st.floats(-2.0, 14.0)


@pytest.mark.parametrize(("count", "expected_kg"), POINTS)
def test_a_calibration_point_reads_its_weight(count: float, expected_kg: float) -> None:
    assert scale().indicated_kg(count) == pytest.approx(expected_kg, abs=1e-12)


@pytest.mark.parametrize(("count", "expected_kg"), POINTS)
def test_counts_may_fall_with_the_load(count: float, expected_kg: float) -> None:
    assert falling().indicated_kg(-count) == pytest.approx(expected_kg, abs=1e-12)


def test_between_two_points_the_line_joins_them() -> None:
    assert scale().indicated_kg(210_000.0) == pytest.approx(1.0)
    assert scale().indicated_kg(711_000.0) == pytest.approx(3.5)


def test_beyond_the_ends_the_outer_segments_go_on() -> None:
    assert scale().indicated_kg(COUNTS[-1] + 199_600.0) == pytest.approx(11.0)
    assert scale().indicated_kg(COUNTS[0] - 200_000.0) == pytest.approx(-1.0)


def test_two_points_are_one_line() -> None:
    two = scale((0.0, 5.0), (1000.0, 501_000.0))
    assert two.indicated_kg(251_000.0) == pytest.approx(2.5)
    assert two.indicated_kg(1_001_000.0) == pytest.approx(10.0)


@given(readings_kg)
def test_count_and_mass_come_back(mass_kg: float) -> None:
    for cell in (scale(), falling()):
        assert cell.indicated_kg(cell.count_at(mass_kg)) == pytest.approx(mass_kg, abs=1e-9)


@given(st.integers(-500_000, 2_900_000))
def test_more_counts_are_more_mass(count: int) -> None:
    assert scale().indicated_kg(count + 1) > scale().indicated_kg(count)
    assert falling().indicated_kg(count + 1) < falling().indicated_kg(count)


@given(readings_kg, st.floats(0.1, 10.0))
def test_weights_twice_as_heavy_read_twice_as_much(mass_kg: float, factor: float) -> None:
    heavier = scale(tuple(m * factor for m in MASSES))
    count = scale().count_at(mass_kg)
    assert heavier.indicated_kg(count) == pytest.approx(factor * mass_kg, abs=1e-9)


def test_resolution_is_that_of_the_coarsest_segment() -> None:
    assert scale().count_resolution_kg == pytest.approx(5.0 / 998_000.0)


@given(readings_kg)
def test_a_common_error_of_all_weights_shifts_every_reading(mass_kg: float) -> None:
    assert sum(scale().weight_sensitivities(mass_kg)) == pytest.approx(1.0)


@given(readings_kg, st.integers(0, 3))
def test_sensitivity_is_the_derivative_by_the_weight(mass_kg: float, point: int) -> None:
    count = scale().count_at(mass_kg)
    shifted = list(MASSES)
    shifted[point] += 1e-3
    moved_kg = scale(tuple(shifted)).indicated_kg(count) - mass_kg
    assert scale().weight_sensitivities(mass_kg)[point] == pytest.approx(moved_kg / 1e-3, abs=1e-6)


def test_an_empty_platform_has_no_weight_that_could_be_wrong() -> None:
    assert scale().u_points_kg == (0.0, 0.0005, 0.0005, 0.0005)
    assert scale((1.0, 2.0, 5.0, 10.0)).u_points_kg == (0.0005,) * 4


def test_the_weights_part_of_a_full_span_is_the_weights_own() -> None:
    assert scale().u_weights_kg(0.0, 5.0) == pytest.approx(0.0005)
    assert scale().u_weights_kg(2.0, 10.0) == pytest.approx(sqrt(2.0) * 0.0005)


@given(readings_kg, readings_kg)
def test_a_difference_has_the_same_uncertainty_both_ways(a_kg: float, b_kg: float) -> None:
    assert scale().u_difference_kg(a_kg, b_kg) == pytest.approx(scale().u_difference_kg(b_kg, a_kg))


@given(readings_kg)
def test_two_readings_at_one_place_differ_by_repeatability_alone(mass_kg: float) -> None:
    assert scale().u_difference_kg(mass_kg, mass_kg) == pytest.approx(sqrt(2.0) * 0.0004)


@pytest.mark.parametrize(("a_kg", "b_kg"), [(0.7, 1.9), (1.3, 4.4), (0.2, 8.9), (6.0, 12.5)])
def test_uncertainty_of_a_difference_agrees_with_gtc(a_kg: float, b_kg: float) -> None:
    """GTC: the weights as uncertain numbers, read through the same line segments."""
    weights = [0.0, *(ureal(mass, 0.0005) for mass in MASSES[1:])]

    def read(count: float) -> object:
        i = max(k for k in range(3) if k == 0 or COUNTS[k] <= count)
        share = (count - COUNTS[i]) / (COUNTS[i + 1] - COUNTS[i])
        return weights[i] + (weights[i + 1] - weights[i]) * share + ureal(0.0, 0.0004)

    theirs = read(scale().count_at(b_kg)) - read(scale().count_at(a_kg))  # type: ignore[operator]
    assert scale().u_difference_kg(a_kg, b_kg) == pytest.approx(theirs.u, rel=1e-9)


@pytest.mark.parametrize(
    ("masses", "counts", "message"),
    [
        ((0.0,), (1.0,), "at least 2"),
        ((0.0, 1.0), (1.0, 2.0, 3.0), "2 calibration masses but 3 counts"),
        ((0.0, 1.0, 1.0), (1.0, 2.0, 3.0), "do not rise"),
        ((0.0, 1.0, 2.0), (1.0, 3.0, 2.0), "monotonic"),
        ((0.0, 1.0), (2.0, 2.0), "monotonic"),
        ((0.0, nan), (1.0, 2.0), "not finite"),
        ((0.0, 1.0), (1.0, inf), "not finite"),
    ],
)
def test_a_calibration_that_is_none_is_refused(
    masses: tuple[float, ...], counts: tuple[float, ...], message: str
) -> None:
    with pytest.raises(QuantityError, match=message):
        scale(masses, counts)


@pytest.mark.parametrize("u_kg", [-0.001, nan, inf])
def test_an_uncertainty_must_be_zero_or_more(u_kg: float) -> None:
    with pytest.raises(QuantityError, match="calibration_u_kg"):
        scale(u_kg=u_kg)
    with pytest.raises(QuantityError, match="repeatability_u_kg"):
        scale(repeatability_kg=u_kg)
