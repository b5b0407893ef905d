"""The page in a real browser: axe-core finds nothing, and nothing runs off sideways."""

from collections.abc import Callable, Iterator
from importlib.resources import files
from pathlib import Path

import pytest
from tests.server.board.browser import Browser, opened
from tests.server.board.test_access import violations

from drainscale_server.record.building import build
from drainscale_server.record.page import STYLESHEET, page
from drainscale_server.record.sheet import sheet_of
from drainscale_server.record.sources import Sources


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with opened() as browser:
        yield browser


@pytest.fixture
def shown(
    browser: Browser, gathered: Callable[[str], Sources], tmp_path: Path
) -> Callable[[str], None]:
    """Open the page of a stored job from a file, with the server's stylesheet beside it."""

    def show(name: str) -> None:
        style = files("drainscale_server.record").joinpath("static/record.css")
        (tmp_path / "record.css").write_bytes(style.read_bytes())
        text = page(sheet_of(build(gathered(name))), document_path="record.pdf")
        file = tmp_path / "page.html"
        file.write_text(text.replace(STYLESHEET, "record.css"), encoding="utf-8")
        browser.open(file.as_uri())

    return show


@pytest.mark.parametrize(("size", "scheme"), [("phone", "light"), ("tablet", "dark")])
def test_axe_has_nothing_against_the_record(
    browser: Browser, shown: Callable[[str], None], size: str, scheme: str
) -> None:
    browser.size(size)
    browser.prefer(color_scheme=scheme)
    shown("overrun")
    assert browser.run("return document.querySelectorAll('svg').length") == 5
    assert violations(browser) == []


def test_nothing_runs_off_sideways_on_a_phone(
    browser: Browser, shown: Callable[[str], None]
) -> None:
    browser.size("phone")
    shown("standpipe")
    wide = "const page = document.documentElement; return page.scrollWidth - page.clientWidth"
    assert browser.run(wide) == 0
