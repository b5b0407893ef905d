"""Straight lines by least squares."""

import random
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.errors import QuantityError
from drainscale.estimation.lines import fit_line

# standard deviation of a least-squares slope under white noise,
# sqrt(12 s^2 / (n (n^2 - 1) dt^2)): JCGM 100, H.3, evaluated apart
SLOPES = [
    (10, 0.1, 1.0, 1.10096377),
    (80, 0.0125, 1.0, 0.3873286),
    (100, 0.1, 1.0, 0.03464275),
    (30, 1.0, 0.5, 0.01054679),
]


@pytest.mark.parametrize(("n", "dt_s", "sigma", "u_slope"), SLOPES)
def test_the_slopes_uncertainty_is_the_closed_form(
    n: int, dt_s: float, sigma: float, u_slope: float
) -> None:
    line = fit_line([i * dt_s for i in range(n)], [0.0] * n)
    assert line.u_slope(sigma) == pytest.approx(u_slope, rel=1e-6)


def test_the_slopes_of_noise_scatter_by_their_uncertainty() -> None:
    """Monte Carlo against the closed form: 400 windows of ten points, sigma 1."""
    rng = random.Random(5)
    times = [0.1 * i for i in range(10)]
    slopes = [fit_line(times, [rng.gauss(0.0, 1.0) for _ in times]).slope for _ in range(400)]
    assert statistics.stdev(slopes) == pytest.approx(1.10096377, rel=0.1)


def test_a_line_is_read_off_at_any_time() -> None:
    line = fit_line([1.0, 2.0, 3.0], [5.0, 7.0, 9.0])
    assert (line.slope, line.at(10.0), line.rms) == pytest.approx((2.0, 23.0, 0.0))


def test_scatter_is_about_the_line_with_two_degrees_of_freedom_less() -> None:
    """Residuals 1, -2, 1 about a level line: sqrt(6 / (3 - 2))."""
    line = fit_line([0.0, 1.0, 2.0], [1.0, -2.0, 1.0])
    assert line.rms == pytest.approx(6.0**0.5)


def test_the_thermometer_of_the_guide_gives_its_slope() -> None:
    """JCGM 100:2008, H.3.3: 11 points, intercept at 20 °C -0.1712 °C, slope 0.00218."""
    t = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
    b = [-171, -169, -166, -159, -164, -165, -156, -157, -159, -161, -160]
    line = fit_line(t, [x / 1000.0 for x in b])
    assert line.slope == pytest.approx(0.00218, abs=0.000005)
    assert line.at(20.0) == pytest.approx(-0.1712, abs=0.00005)
    assert line.rms == pytest.approx(0.0035, abs=0.00005)
    assert line.u_slope(line.rms) == pytest.approx(0.00067, abs=0.000005)


@given(
    st.lists(st.tuples(st.floats(0, 100), st.floats(-50, 50)), min_size=3, max_size=30,
             unique_by=lambda p: round(p[0], 2))
)  # fmt: skip
def test_any_line_is_the_one_of_a_reference_library(points: list[tuple[float, float]]) -> None:
    """Python's own statistics.linear_regression as the reference."""
    times, values = [p[0] for p in points], [p[1] for p in points]
    line = fit_line(times, values)
    slope, intercept = statistics.linear_regression(times, values)
    assert line.slope == pytest.approx(slope, rel=1e-6, abs=1e-7)
    assert line.at(0.0) == pytest.approx(intercept, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize(("times", "values"), [([], []), ([1.0], [1.0]), ([1.0, 2.0], [1.0])])
def test_fewer_than_two_pairs_are_refused(times: list[float], values: list[float]) -> None:
    with pytest.raises(QuantityError, match="2 pairs or more needed"):
        fit_line(times, values)


def test_points_at_one_instant_have_a_level_and_an_unknown_slope() -> None:
    line = fit_line([4.0, 4.0, 4.0], [1.0, 2.0, 3.0])
    assert (line.mean, line.slope) == (2.0, 0.0)
    assert line.u_slope(1.0) == float("inf")
