"""What a run claims: each claim with what was measured, what was needed, and yes or NO."""

import sys
from collections.abc import Iterable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from shutil import get_terminal_size
from typing import TypeVar

from rich import box
from rich.console import Console
from rich.table import Table

FILE_WIDTH = 400  # columns; no table is as wide, so into a file nothing is folded or cut
LEAST_WIDTH = 120  # a narrower terminal breaks the lines by itself, which is easier to read

T = TypeVar("T")


@dataclass(frozen=True)
class Claim:
    """One thing that has to hold.

    Attributes:
        what: What is claimed.
        measured: What was found.
        needed: What has to be found for it to hold.
        holds: Whether it does.
    """

    what: str
    measured: str
    needed: str
    holds: bool


def word(holds: bool) -> str:
    """Say whether something holds, the failure to be seen from afar."""
    return "yes" if holds else "NO"


def status_of(claims: Sequence[Claim]) -> int:
    """Return the exit status: 0 if all claims hold, 1 if one does not or none was made."""
    return 0 if claims and all(one.holds for one in claims) else 1


def outcome(running: Future[T]) -> T | str:
    """Wait for a piece of work; a line of why where it came to nothing."""
    try:
        return running.result()
    except Exception as error:  # noqa: BLE001 - whatever it was, that part is a NO and says why
        return f"{type(error).__name__}: {error}".strip().splitlines()[0]


def new_console() -> Console:
    """Make what the tables are printed on."""
    width = FILE_WIDTH
    if sys.stdout.isatty():
        width = max(get_terminal_size().columns, LEAST_WIDTH)
    # what is claimed is no markup, nor is a line of why
    return Console(width=width, markup=False, highlight=False)


def new_table(title: str, words: Iterable[str], numbers: Iterable[str] = ()) -> Table:
    """Make a table: first the columns of words, then those of numbers."""
    table = Table(title=title, title_justify="left", box=box.SIMPLE, padding=(0, 1, 0, 0))
    # folded where a terminal is too narrow: never cut
    for head in words:
        table.add_column(head, justify="left", overflow="fold")
    for head in numbers:
        table.add_column(head, justify="right", overflow="fold")
    return table


def claims_table(claims: Sequence[Claim]) -> Table:
    """Draw the closing summary."""
    table = new_table("summary", ("claim", "measured", "needed", "holds"))
    for one in claims:
        table.add_row(one.what, one.measured, one.needed, word(one.holds))
    return table
