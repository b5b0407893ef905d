import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale_sim.score.figures import Bound, Figure
from drainscale_sim.score.grade import grade
from drainscale_sim.score.tally import Tally, quantile

COVERS = Figure("covers", "%", "x", "share", must=Bound(90.0, 99.5), aim=Bound(93.0, 99.0))


def test_quantile_lies_between_order_statistics_in_proportion() -> None:
    assert quantile([40.0, 10.0, 30.0, 20.0], 0.5) == 25.0
    assert quantile([10.0, 20.0, 30.0, 40.0], 0.9) == pytest.approx(37.0)


def test_quantile_of_one_value_is_that_value() -> None:
    assert quantile([7.0], 0.05) == quantile([7.0], 0.95) == 7.0


# Source of the oracle: Python's statistics.quantiles, method "inclusive" (Hyndman and Fan 1996,
# definition 7, which is also the usual default of numerical packages).
@given(st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=40), st.integers(1, 19))
def test_quantile_agrees_with_the_standard_library(values: list[float], twentieth: int) -> None:
    expected = statistics.quantiles(values, n=20, method="inclusive")[twentieth - 1]
    assert quantile(values, twentieth / 20) == pytest.approx(expected, rel=1e-9, abs=1e-6)


def test_values_that_are_not_finite_are_left_out() -> None:
    tally = Tally()
    tally.add("x", float("nan"))
    tally.add("x", 3.0)
    assert tally.values["x"] == [3.0]


def test_merged_tallies_hold_the_cases_of_both() -> None:
    one, two = Tally(), Tally()
    one.count("x", 1)
    two.count("x", 0, of=3)
    two.add("y", 5.0)
    one.merge(two)
    assert one.share("x") == 0.25
    assert one.reduced()["y"]["median"] == 5.0


def test_a_share_below_its_limit_is_short() -> None:
    tally = Tally()
    tally.count("x", 89, of=100)
    graded = grade(COVERS, tally)
    assert (graded.value, graded.n) == (89.0, 100)
    assert graded.keeps_must is False


def test_a_share_at_its_limit_keeps_it() -> None:
    tally = Tally()
    tally.count("x", 90, of=100)
    graded = grade(COVERS, tally)
    assert graded.keeps_must is True
    assert graded.keeps_aim is False


def test_twelve_of_twelve_cannot_show_that_an_interval_is_too_wide() -> None:
    tally = Tally()
    tally.count("x", 12, of=12)
    assert grade(COVERS, tally).keeps_must is True


def test_two_hundred_of_two_hundred_show_it() -> None:
    tally = Tally()
    tally.count("x", 200, of=200)
    assert grade(COVERS, tally).keeps_must is False


def test_a_figure_without_a_case_is_neither_kept_nor_short() -> None:
    graded = grade(COVERS, Tally())
    assert (graded.value, graded.n, graded.keeps_must, graded.keeps_aim) == (None, 0, None, None)


def test_a_count_per_recording_is_not_a_percentage() -> None:
    tally = Tally()
    tally.count("x", 1)
    tally.count("x", 2)
    stray = Figure("stray", "/rec.", "x", "per recording", must=Bound(high=0.5))
    assert grade(stray, tally).value == 1.5
