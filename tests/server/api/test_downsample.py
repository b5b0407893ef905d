import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale_server.api.downsample import PER_COLUMN, kept_places

STEPS = st.lists(st.floats(0.0, 10.0), min_size=1, max_size=200)
VALUES = st.floats(-1e6, 1e6)


@st.composite
def series(draw: st.DrawFn) -> tuple[list[float], list[float]]:
    """Times that do not fall, also many at once and with long gaps, and their values."""
    t, times_s = 0.0, []
    for step in draw(STEPS):
        t += step
        times_s.append(t)
    n = len(times_s)
    return times_s, draw(st.lists(VALUES, min_size=n, max_size=n))


def test_few_points_all_stay() -> None:
    assert kept_places([0.0, 1.0, 2.0], [5.0, 5.0, 5.0], 1) == [0, 1, 2]


def test_of_a_column_first_lowest_highest_and_last_stay() -> None:
    values = [3.0, 9.0, 4.0, 1.0, 5.0, 6.0]
    assert kept_places(list(range(6)), values, 1) == [0, 1, 3, 5]


@given(series(), st.integers(1, 20))
def test_every_spike_survives(made: tuple[list[float], list[float]], columns: int) -> None:
    times_s, values = made
    kept = kept_places(times_s, values, columns)
    width_s = (times_s[-1] - times_s[0]) / columns or 1.0
    for t, value in zip(times_s, values, strict=True):
        # within a column's width of it, the plot goes at least as far up and down
        near = [values[p] for p in kept if abs(times_s[p] - t) <= width_s * (1 + 1e-9)]
        assert min(near) <= value <= max(near)


@given(series(), st.integers(1, 20))
def test_what_stays_is_little_in_order_and_as_it_was(
    made: tuple[list[float], list[float]], columns: int
) -> None:
    times_s, values = made
    kept = kept_places(times_s, values, columns)
    assert kept == sorted(set(kept))
    assert len(kept) <= PER_COLUMN * columns
    assert (kept[0], kept[-1]) == (0, len(times_s) - 1)
    assert {min(values), max(values)} <= {values[place] for place in kept}


def test_a_single_outlier_of_ten_hours_stays() -> None:
    n = 360_000  # ten hours of ten a second
    values = [100.0] * n
    values[123_457] = 8_388_607.0
    kept = kept_places([place / 10.0 for place in range(n)], values, 500)
    assert 123_457 in kept
    assert len(kept) <= 2000


@pytest.mark.parametrize(("times_s", "values", "columns"), [([0.0], [], 1), ([0.0], [1.0], 0)])
def test_nonsense_is_refused(times_s: list[float], values: list[float], columns: int) -> None:
    with pytest.raises(ValueError, match="columns"):
        kept_places(times_s, values, columns)
