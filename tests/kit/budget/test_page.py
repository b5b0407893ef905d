"""The explanation page has every term, where it is held, and the figures of the five kits."""

import re
from pathlib import Path

from drainscale.budget.kits import all_kits
from drainscale.budget.terms import terms_of

PAGE = Path(__file__).parents[3] / "docs/explanations/error-budget.md"
TEXT = PAGE.read_text(encoding="utf-8")


def test_every_term_is_on_the_page_with_where_it_is_held() -> None:
    rows = re.findall(r"(?m)^\| ([^|]+) \| [^|]+ \| (in repeatability|no) \|$", TEXT)
    held = {term.name: f"in {term.held_in}" if term.held_in else "no" for term in terms_of("c3")}
    assert dict(rows) == held


def test_the_figures_of_the_five_kits_are_those_of_the_command() -> None:
    rows = re.findall(r"(?m)^\| ([A-E]): [^|]+ \| (\d+) \| (\d+) \| (\d+) \|$", TEXT)
    printed = {name: [int(cell) for cell in cells] for name, *cells in rows}
    found = {
        kit.name: [round(1000.0 * kit.budget(litres).whole.U) for litres in (2.0, 4.0, 6.0)]
        for kit in all_kits()
    }
    assert printed == found
