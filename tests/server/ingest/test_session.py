import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale_server.ingest.session import SAME_PLACE_N, Places, Tally, lost_by

numbers = st.integers(1, 60)


def unbroken(held: set[int]) -> int:
    """The highest number up to which none is missing, counted the slow way."""
    return next(number for number in range(len(held) + 1) if number + 1 not in held)


@given(st.lists(numbers, max_size=200))
def test_through_is_the_end_of_the_unbroken_run_in_any_order_with_repeats(come: list[int]) -> None:
    tally = Tally()
    for so_far, seq in enumerate(come, start=1):
        tally.add(seq)
        assert tally.through == unbroken(set(come[:so_far]))
        assert all(tally.has(one) for one in come[:so_far])
    missing = set(range(1, 70)) - set(come)
    assert not any(tally.has(one) for one in missing)


@given(st.sets(numbers), st.integers(0, 60))
def test_what_the_store_holds_at_the_start_counts_like_what_comes(
    beyond: set[int], through: int
) -> None:
    tally = Tally(through, beyond)
    assert tally.through == unbroken(beyond | set(range(1, through + 1)))


@given(st.lists(numbers, max_size=100), st.integers(1, 80))
def test_giving_up_counts_just_what_is_missing(come: list[int], first: int) -> None:
    tally = Tally()
    for seq in come:
        tally.add(seq)
    missing_n = len(set(range(1, first)) - set(come))
    assert tally.give_up_below(first) == missing_n
    assert tally.through == unbroken(set(come) | set(range(1, first)))
    assert tally.give_up_below(first) == 0


@given(st.sets(numbers))
def test_giving_up_all_holes_leaves_none(come: set[int]) -> None:
    tally = Tally()
    for seq in random.Random(1).sample(sorted(come), len(come)):
        tally.add(seq)
    assert tally.give_up_holes() == max(come, default=0) - len(come)
    assert tally.through == max(come, default=0)


def tallies(**through: int) -> dict[str, Tally]:
    """Starts in order, each with a hole behind ``through`` and three numbers behind that."""
    return {boot: Tally(n, range(n + 2, n + 5)) for boot, n in through.items()}


def test_below_the_first_that_is_kept_all_is_lost_and_passed() -> None:
    known = tallies(old=4, now=7)
    assert lost_by("now", {"old": 6, "now": 8}, known, is_retained=True) == {"old": 1}
    assert [one.through for one in known.values()] == [8, 7]


def test_an_earlier_start_that_is_not_listed_can_give_nothing_more() -> None:
    known = tallies(old=4, now=7)
    assert lost_by("now", {"now": 8}, known, is_retained=False) == {"old": 1}
    assert known["old"].through == 8


def test_a_status_that_the_broker_kept_tells_nothing_of_what_it_does_not_list() -> None:
    known = tallies(old=4, now=7)
    assert lost_by("now", {"now": 8}, known, is_retained=True) == {}


def test_a_status_tells_nothing_of_a_later_start() -> None:
    known = tallies(old=4, now=7)
    assert lost_by("old", {"old": 1}, known, is_retained=False) == {}
    assert known["now"].through == 7


def test_a_status_that_does_not_list_its_own_start_tells_nothing_of_others() -> None:
    known = tallies(old=4)
    assert lost_by("now", {}, known, is_retained=False) == {}


def test_an_unreadable_message_that_stands_twice_at_a_hole_is_that_number() -> None:
    places, tally = Places(), Tally(3)
    places.unreadable(b"x")
    assert places.numbered("b", 5, tally) is None
    tally.add(5)
    places.unreadable(b"x")
    assert places.numbered("b", 5, tally) == b"x"


@pytest.mark.parametrize(
    "come", [[b"x", b"y"], [], [b"y"]], ids=["two of them", "none", "another one"]
)
def test_it_is_not_while_anything_speaks_against_it(come: list[bytes]) -> None:
    places, tally = Places(), Tally(3)
    places.unreadable(b"x")
    places.numbered("b", 5, tally)
    for digest in come:
        places.unreadable(digest)
    assert places.numbered("b", 5, tally) is None


def test_it_is_not_a_number_that_is_there() -> None:
    places, tally = Places(), Tally(9)
    for _ in range(SAME_PLACE_N + 1):
        places.unreadable(b"x")
        assert places.numbered("b", 5, tally) is None
    places.unreadable(b"x")
    assert places.numbered("b", 1, Tally()) is None
