import pytest

from drainscale_sim.soak.summary import outcome
from drainscale_sim.soak.work import working


def test_each_piece_says_how_it_ended_and_counts(capsys: pytest.CaptureFixture[str]) -> None:
    with working(1, 2) as work:
        good = work.begin("seven", int, "7")
        bad = work.begin("a word", int, "word")
    assert outcome(good) == 7
    assert str(outcome(bad)).startswith("ValueError: invalid literal")
    first, second = capsys.readouterr().err.splitlines()
    assert first.startswith("[1/2, 0 min ")
    assert first.endswith("] seven: 7")
    assert "] a word: ValueError: " in second


def test_work_that_has_not_begun_is_dropped_when_the_block_fails() -> None:
    with pytest.raises(KeyboardInterrupt), working(1, 40) as work:  # noqa: PT012
        pieces = [work.begin(str(n), pow, 3, 2_000_000 + n) for n in range(40)]
        raise KeyboardInterrupt
    assert any(one.cancelled() for one in pieces)


def interrupted() -> None:
    """As a piece is that is being done when the keyboard interrupts."""
    raise KeyboardInterrupt


def test_a_worker_that_was_interrupted_does_nothing_more(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with working(1, 2) as work:
        first, second = work.begin("first", interrupted), work.begin("second", int, "7")
    assert isinstance(first.exception(), KeyboardInterrupt)
    assert isinstance(second.exception(), KeyboardInterrupt)
    assert capsys.readouterr().err == ""
