"""Bounce, knocks and broken cables of the foot switch."""

from collections.abc import Iterable
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from drainscale.drivers.frames.foot_switch import Contacts, FootDebouncer
from drainscale.ports import FootEvent

UP, MOVING, DOWN, BOTH = (False, True), (False, False), (True, False), (True, True)


def events(*states: tuple[float, tuple[bool, bool]]) -> list[FootEvent]:
    """What comes of these changes, looked at every 10 ms until a second after the last."""
    debouncer, found = FootDebouncer(), list[FootEvent]()
    looks = [(n / 100, None) for n in range(int(100 * (states[-1][0] + 2)))]
    standing = states[0][1]
    for t, change in sorted([*states, *looks], key=lambda at: at[0]):
        standing = change or standing
        found += debouncer.see(Contacts(t, *standing))
    return found


def changes(found: Iterable[FootEvent]) -> list[str]:
    return [event.change for event in found]


def test_press_and_release_come_once_with_the_time_of_the_contact() -> None:
    pressed, released = events((0.0, UP), (1.0, MOVING), (1.01, DOWN), (1.4, MOVING), (1.41, UP))
    assert (pressed.change, pressed.t) == ("pressed", 1.01)
    assert (released.change, released.t, released.held_s) == ("released", 1.41, 1.41 - 1.01)
    assert released.is_press


def test_bounce_is_one_press() -> None:
    bounces = [(1.0 + n / 1000, DOWN if n % 2 else MOVING) for n in range(6)]
    assert changes(events((0.0, UP), *bounces, (1.3, UP))) == ["pressed", "released"]


def test_contact_of_twenty_milliseconds_is_no_press() -> None:
    assert events((0.0, UP), (1.0, DOWN), (1.02, UP)) == []


def test_knock_of_fifty_milliseconds_does_not_count() -> None:
    assert not events((0.0, UP), (1.0, DOWN), (1.05, UP))[-1].is_press


def test_thing_left_on_the_switch_does_not_count() -> None:
    assert not events((0.0, UP), (1.0, DOWN), (4.0, UP))[-1].is_press


def test_second_press_at_once_does_not_count_and_a_third_later_does() -> None:
    found = events(
        (0.0, UP), (1.0, DOWN), (1.2, UP), (1.6, DOWN), (1.8, UP), (1.9, DOWN), (2.1, UP)
    )
    assert [event.is_press for event in found if event.change == "released"] == [True, False, True]


def test_press_after_a_knock_counts() -> None:
    found = events((0.0, UP), (1.0, DOWN), (1.05, UP), (1.2, DOWN), (1.5, UP))
    assert [event.is_press for event in found if event.change == "released"] == [False, True]


def test_cable_that_is_out_is_a_fault_and_in_again_restored() -> None:
    fault, restored = events((0.0, UP), (1.0, MOVING), (4.0, UP))
    assert (fault.change, fault.t) == ("fault", 1.0)
    assert (restored.change, restored.t) == ("restored", 4.0)


def test_both_contacts_closed_is_a_fault() -> None:
    assert changes(events((0.0, UP), (1.0, BOTH))) == ["fault"]


def test_switch_that_is_down_at_the_start_is_a_fault_until_it_is_up() -> None:
    assert changes(events((0.0, DOWN), (3.0, UP))) == ["fault", "restored"]


def test_cable_that_is_out_at_the_start_is_a_fault() -> None:
    assert changes(events((0.0, MOVING))) == ["fault"]


def test_press_in_a_fault_does_not_count() -> None:
    found = events((0.0, UP), (1.0, MOVING), (4.0, DOWN), (4.5, UP), (5.0, DOWN), (5.2, UP))
    assert changes(found) == ["fault", "restored", "pressed", "released"]


@given(st.lists(st.tuples(st.floats(0.0005, 1.5), st.sampled_from([UP, MOVING, DOWN, BOTH]))))
def test_presses_and_releases_alternate_whatever_the_contacts_do(
    steps: list[tuple[float, tuple[bool, bool]]],
) -> None:
    t, states = 0.1, [(0.0, UP)]
    for gap_s, state in steps:
        t += gap_s
        states.append((t, state))
    found = events(*states)
    assert [event.t for event in found] == sorted(event.t for event in found)
    for before, after in pairwise(found):
        assert before.change != after.change
        assert after.change != "released" or before.change == "pressed"
