import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.uplink.session import Session, Span, Standing


def session_of(*standings: Standing, window_n: int = 10) -> Session:
    session = Session(window_n=window_n, patience_s=10.0)
    session.update(standings)
    session.connected(0.0)
    return session


def send_all(session: Session, now_s: float = 0.0, limit_n: int = 1000) -> list[Span]:
    spans = []
    while (span := session.due(limit_n)) is not None:
        session.sent(span, now_s)
        spans.append(span)
    return spans


def test_nothing_is_due_when_all_is_acknowledged() -> None:
    assert session_of(Standing("a", 7, 7)).due(5) is None


def test_what_is_not_acknowledged_is_due_in_portions() -> None:
    session = session_of(Standing("a", 2, 7))
    assert send_all(session, limit_n=3) == [Span("a", 3, 5), Span("a", 6, 7)]


def test_no_more_than_a_window_is_under_way() -> None:
    session = session_of(Standing("a", 0, 100))
    assert send_all(session) == [Span("a", 1, 10)]
    assert session.acknowledged("a", 4, 1.0)
    assert send_all(session) == [Span("a", 11, 14)]


def test_an_older_boot_that_is_stuck_does_not_stop_the_new_one() -> None:
    session = session_of(Standing("old", 0, 50), Standing("new", 0, 3))
    assert send_all(session) == [Span("old", 1, 10), Span("new", 1, 3)]


def test_a_new_connection_sends_all_again_above_what_is_acknowledged() -> None:
    session = session_of(Standing("a", 0, 8))
    send_all(session)
    session.acknowledged("a", 5, 1.0)
    session.connected(2.0)
    assert send_all(session) == [Span("a", 6, 8)]


def test_silence_sends_again_ever_more_patiently() -> None:
    session = session_of(Standing("a", 0, 3))
    send_all(session, now_s=0.0)
    assert session.rewind_stalled(9.9) == []
    assert session.rewind_stalled(10.0) == ["a"]
    assert send_all(session, now_s=10.0) == [Span("a", 1, 3)]
    assert session.rewind_stalled(29.9) == []
    assert session.rewind_stalled(30.0) == ["a"]


def test_new_messages_do_not_hide_that_the_server_is_silent() -> None:
    session = session_of(Standing("a", 0, 1))
    send_all(session, now_s=0.0)
    session.update([Standing("a", 0, 2)])
    send_all(session, now_s=9.0)
    assert session.rewind_stalled(10.0) == ["a"]


def test_progress_makes_it_as_impatient_as_before() -> None:
    session = session_of(Standing("a", 0, 3))
    send_all(session)
    session.rewind_stalled(10.0)
    send_all(session, now_s=10.0)
    session.acknowledged("a", 1, 11.0)
    assert session.rewind_stalled(20.9) == []
    assert session.rewind_stalled(21.0) == ["a"]


def test_a_quiet_hour_is_no_silence_of_the_server() -> None:
    session = session_of(Standing("a", 0, 1))
    send_all(session)
    session.acknowledged("a", 1, 1.0)
    session.update([Standing("a", 1, 2)])
    send_all(session, now_s=3600.0)
    assert session.rewind_stalled(3605.0) == []
    assert session.rewind_stalled(3610.0) == ["a"]


def test_late_and_unknown_words_are_no_news() -> None:
    session = session_of(Standing("a", 3, 9))
    assert not session.acknowledged("a", 3, 0.0)
    assert not session.acknowledged("a", 2, 0.0)
    assert not session.acknowledged("gone", 5, 0.0)
    assert session.due(1) == Span("a", 4, 4)


def test_a_number_that_was_never_given_out_is_refused_and_changes_nothing() -> None:
    session = session_of(Standing("a", 3, 9))
    with pytest.raises(ValueError, match="10 acknowledged, but the last is 9"):
        session.acknowledged("a", 10, 0.0)
    assert session.due(100) == Span("a", 4, 9)


def test_the_server_may_have_it_from_an_earlier_connection() -> None:
    session = session_of(Standing("a", 0, 9))
    assert session.acknowledged("a", 8, 0.0)
    assert send_all(session) == [Span("a", 9, 9)]


def test_a_boot_that_the_spool_forgot_is_dropped() -> None:
    session = session_of(Standing("old", 0, 5), Standing("new", 0, 1))
    session.update([Standing("new", 0, 1)])
    assert send_all(session) == [Span("new", 1, 1)]


@given(st.integers(0, 2**32), st.integers(1, 60), st.integers(1, 12))
def test_over_any_lossy_link_everything_arrives_in_the_end(
    seed: int, total: int, window_n: int
) -> None:
    chance = random.Random(seed)
    session = Session(window_n=window_n, patience_s=1.0)
    stored: set[int] = set()
    through = 0
    for turn in range(40 * total):
        now_s = float(turn)
        session.update([Standing("a", through, min(total, turn + 1))])
        if turn == 0 or chance.random() < 0.05:
            session.connected(now_s)
        session.rewind_stalled(now_s)
        span = session.due(chance.randint(1, 5))
        if span is not None:
            session.sent(span, now_s)
            assert span.last <= through + window_n
            stored |= {n for n in range(span.first, span.last + 1) if chance.random() < 0.7}
        held = next(n for n in range(total + 1) if n + 1 not in stored)
        if chance.random() < 0.5 and session.acknowledged("a", held, now_s):
            through = held
    assert through == total
    assert session.due(1) is None
