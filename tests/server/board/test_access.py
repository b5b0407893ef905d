"""axe-core finds nothing, and no request leaves the machine."""

from typing import Any
from urllib.parse import urlsplit

import pytest
from tests.server.board import states
from tests.server.board.browser import Browser, axe_source
from tests.server.board.fake import Fake

RUN_AXE = """
const done = arguments[arguments.length - 1];
axe.run(document, {resultTypes: ['violations']}).then((found) => done(found.violations.map(
  (one) => [one.id, one.help, one.nodes.map((node) => node.html.slice(0, 200))])));
"""


def violations(browser: Browser) -> list[Any]:
    """Run axe-core in the page."""
    browser.run(axe_source())
    return list(browser.driver.execute_async_script(RUN_AXE))


@pytest.mark.parametrize("theme", ["dark", "light"])
@pytest.mark.parametrize("size", ["phone", "tablet", "wall"])
def test_axe_has_nothing_against_the_board(
    browser: Browser, fake: Fake, size: str, theme: str
) -> None:
    browser.size(size)
    fake.show(states.SHUT)
    browser.open(fake.board, theme=theme)
    browser.until_text("#word", "SHUT")
    browser.click("#set-open")
    assert violations(browser) == []


@pytest.mark.parametrize(
    ("t", "change", "theme"),
    [
        (states.BEFORE, states.nothing_ticked(), "light"),
        (states.WARMING, states.PAN_FAULT, "light"),
        (states.DRAINING, states.SCALE_STALE, "dark"),
        (states.DRAINING, {"figures": {"link_is_stale": True}}, "light"),
        (states.OVER, {}, "dark"),
    ],
    ids=["ticks", "fault", "stale", "no link", "done"],
)
def test_axe_has_nothing_against_its_states(
    browser: Browser, fake: Fake, t: float, change: dict[str, Any], theme: str
) -> None:
    fake.show(t, change=change)
    browser.open(fake.board, theme=theme)
    browser.until(lambda: browser.has("#path"), "a job")
    assert violations(browser) == []


@pytest.mark.parametrize(
    ("path", "theme"), [("/", "dark"), ("/new-job", "dark"), ("/record-data/j", "light")]
)
def test_axe_has_nothing_against_the_other_pages(
    browser: Browser, fake: Fake, path: str, theme: str
) -> None:
    browser.open(fake.url + path, theme=theme)
    browser.until(lambda: browser.has("#benches a, #form button"), "the page")
    assert violations(browser) == []


def test_axe_does_find_what_is_wrong(browser: Browser, fake: Fake) -> None:
    browser.open(fake.url)
    browser.until(lambda: browser.has("#benches a"), "the page")
    browser.run("document.getElementById('benches').innerHTML = '<button></button>'")
    assert "button-name" in [found[0] for found in violations(browser)]


def test_no_request_leaves_the_machine(browser: Browser, fake: Fake) -> None:
    browser.requests()
    fake.show(states.RUNNING)
    for path in ("/board/north/bay-1", "/", "/new-job"):
        browser.open(fake.url + path)
        browser.until(lambda: browser.has("#link:not(.lost), #benches a, #form button"), path)
    asked = browser.requests()
    assert len(asked) > 20
    assert {urlsplit(url).netloc for url in asked} == {f"127.0.0.1:{fake.port}"}
    assert browser.complaints() == []  # among them each breach of the content policy
