"""The explanation page shows what the code does."""

import doctest
from pathlib import Path

PAGE = Path(__file__).parents[3] / "docs" / "explanations" / "mass_and_volume.md"


def test_the_example_on_the_page_gives_what_the_page_says() -> None:
    result = doctest.testfile(str(PAGE), module_relative=False, encoding="utf-8")
    assert result.attempted >= 10
    assert result.failed == 0
