import io
import sys
from concurrent.futures import Future

import pytest

from drainscale_sim.soak.summary import (
    LEAST_WIDTH,
    Claim,
    claims_table,
    new_console,
    outcome,
    status_of,
)

GOOD = Claim("the sky", "blue", "blue", holds=True)
BAD = Claim("the sea " * 20, "further away " * 5, "here", holds=False)


def printed(monkeypatch: pytest.MonkeyPatch, claims: list[Claim]) -> list[str]:
    """What comes out where the output is a file."""
    file = io.StringIO()
    monkeypatch.setattr(sys, "stdout", file)
    new_console().print(claims_table(claims))
    return [line.strip() for line in file.getvalue().splitlines() if line.strip()]


@pytest.mark.parametrize(
    ("claims", "status"),
    [([GOOD, GOOD], 0), ([GOOD, BAD], 1), ([BAD, GOOD], 1), ([], 1)],
)
def test_the_status_is_0_only_if_every_claim_holds(claims: list[Claim], status: int) -> None:
    assert status_of(claims) == status


def test_a_line_of_the_summary_is_whole_in_a_file(monkeypatch: pytest.MonkeyPatch) -> None:
    title, heads, _rule, first, second = printed(monkeypatch, [GOOD, BAD])
    assert title == "summary"
    assert heads.split() == ["claim", "measured", "needed", "holds"]
    assert first.split() == ["the", "sky", "blue", "blue", "yes"]
    assert second.split() == f"{BAD.what} {BAD.measured} here NO".split()


def test_what_a_claim_says_is_no_markup(monkeypatch: pytest.MonkeyPatch) -> None:
    claim = Claim("[bold]odd[/bold]", "[Errno 2]", "none", holds=False)
    assert printed(monkeypatch, [claim])[-1].split() == [
        "[bold]odd[/bold]",
        "[Errno",
        "2]",
        "none",
        "NO",
    ]


def test_work_that_comes_to_nothing_gives_its_reason_in_one_line() -> None:
    failed: Future[int] = Future()
    failed.set_exception(RuntimeError("no order came\nand more"))
    assert outcome(failed) == "RuntimeError: no order came"


def test_work_that_is_done_gives_what_it_found() -> None:
    done: Future[int] = Future()
    done.set_result(7)
    assert outcome(done) == 7


def test_a_terminal_that_is_narrow_breaks_the_lines_by_itself(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    monkeypatch.setenv("COLUMNS", "60")
    assert new_console().width == LEAST_WIDTH
