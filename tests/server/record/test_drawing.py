import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale_server.record.drawing import Scale, round_steps, runs, steps_of_ten, thinned

POINTS = st.lists(st.tuples(st.floats(0.0, 40.0), st.floats(-1e3, 1e3)), max_size=200).map(
    lambda points: sorted(points, key=lambda point: point[0])
)


@given(POINTS)
def test_thinning_loses_no_peak(points: list[tuple[float, float]]) -> None:
    kept = thinned(points)
    assert set(kept) <= set(points)
    assert {f(y for _, y in kept) for f in (min, max) if points} == {
        f(y for _, y in points) for f in (min, max) if points
    }
    assert len(kept) <= 4 * 81


def test_a_logarithmic_scale_gives_each_decade_the_same_room() -> None:
    y = Scale(1.0, 1000.0, 150.0, 0.0, is_log=True)
    assert [y.at(value) for value in (1.0, 10.0, 100.0, 1000.0)] == pytest.approx(
        [150.0, 100.0, 50.0, 0.0]
    )


def test_what_is_outside_lies_on_the_edge() -> None:
    x = Scale(0.0, 10.0, 40.0, 500.0)
    assert (x.at(-5.0), x.at(50.0)) == (40.0, 500.0)


def test_a_scale_of_one_value_draws_it_at_its_beginning() -> None:
    assert Scale(5.0, 5.0, 150.0, 0.0).at(5.0) == 150.0


def test_a_series_breaks_where_a_value_is_missing_or_late() -> None:
    series = [(0.0, 1.0), (1.0, 2.0), (2.0, None), (3.0, 4.0), (30.0, 5.0)]
    assert runs(series, most_gap=10.0) == [
        [(0.0, 1.0), (1.0, 2.0)],
        [(3.0, 4.0)],
        [(30.0, 5.0)],
    ]


def test_axes_have_round_numbers() -> None:
    assert round_steps(0.0, 25.4, 14, (1.0, 2.0, 5.0)) == [2.0 * n for n in range(13)]
    assert steps_of_ten(1.0, 2300.0) == [1.0, 10.0, 100.0, 1000.0, 10000.0]
