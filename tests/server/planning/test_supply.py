import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale_server.planning.supply import bottles_to_buy, share_of_new


@pytest.mark.parametrize(
    ("volume_L", "bottle_L", "bottles"),
    [(0.0, 1.0, 0), (5.0, 1.0, 5), (5.01, 1.0, 6), (3.0, 0.1, 30), (4.0, 0.946352946, 5)],
)
def test_bottles_hold_at_least_what_is_needed(
    volume_L: float, bottle_L: float, bottles: int
) -> None:
    assert bottles_to_buy(volume_L, bottle_L) == bottles


def test_half_of_it_three_times_leaves_an_eighth_of_the_old_fluid() -> None:
    assert share_of_new(4.0, 8.0, times=3) == 0.875


@given(st.floats(0.0, 10.0), st.floats(10.0, 20.0), st.integers(0, 12))
def test_each_further_time_renews_the_same_share_of_what_is_left(
    drained_L: float, total_L: float, times: int
) -> None:
    old = 1.0
    for _ in range(times):
        old -= old * drained_L / total_L
    assert share_of_new(drained_L, total_L, times) == pytest.approx(1.0 - old, abs=1e-12)


@pytest.mark.parametrize(
    ("drained_L", "total_L", "times"),
    [(9.0, 8.0, 1), (-1.0, 8.0, 1), (1.0, 0.0, 1), (1.0, 8.0, -1)],
)
def test_what_cannot_be_is_refused(drained_L: float, total_L: float, times: int) -> None:
    with pytest.raises(ValueError, match="times"):
        share_of_new(drained_L, total_L, times)


@pytest.mark.parametrize(("volume_L", "bottle_L"), [(-0.1, 1.0), (1.0, 0.0)])
def test_bottles_that_cannot_be_are_refused(volume_L: float, bottle_L: float) -> None:
    with pytest.raises(ValueError, match="bottles of"):
        bottles_to_buy(volume_L, bottle_L)
