"""Logging in and out in a real browser, over TLS, with the whole server behind it."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from tests.kit.uplink.conftest import certificate  # noqa: F401 - a fixture
from tests.kit.uplink.made_up import BAY_3
from tests.server.board.browser import Browser, opened
from tests.server.board.test_access import violations
from tests.server.servers import ServerProcess

from drainscale_server.board.texts import catalogue
from drainscale_server.broker.credentials import Credentials
from drainscale_server.running import data_folder
from drainscale_server.settings.server_file import DataPlace, Settings

CONFIG = """
[web]
host = "0.0.0.0"
[tls]
certificate_file = "{cert}"
key_file = "{key}"
"""
BOARD = f"board/{BAY_3.site}/{BAY_3.bench}"


@dataclass
class Guarded:
    url: str
    password: str
    server: ServerProcess
    credentials: Credentials


@pytest.fixture
def guarded(tmp_path: Path, certificate: tuple[Path, Path]) -> Iterator[Guarded]:  # noqa: F811
    cert, key = certificate
    config = tmp_path / "server.toml"
    config.write_text(CONFIG.format(cert=cert, key=key))
    credentials = Credentials(data_folder(Settings(data=DataPlace(str(tmp_path / "data")))))
    credentials.enrol(BAY_3)
    password = credentials.new_web_password()
    server = ServerProcess(tmp_path / "data", "--config", str(config))
    server.start()
    yield Guarded(f"https://localhost:{server.port}/", password, server, credentials)
    assert server.stop() == 0
    assert "Traceback" not in server.log()


@pytest.fixture
def browser() -> Iterator[Browser]:
    """A browser that knows nothing, and takes the test's certificate for good."""
    with opened() as browser:
        browser.driver.execute_cdp_cmd("Security.setIgnoreCertificateErrors", {"ignore": True})
        browser.size("tablet")
        yield browser


def path(browser: Browser) -> str:
    return str(browser.run("return location.pathname"))


def until_at(browser: Browser, wanted: str) -> None:
    browser.until(lambda: path(browser) == wanted, f"the page {wanted}")


def log_in(browser: Browser, password: str) -> None:
    browser.until_text("#enter", catalogue()["login"]["enter"])
    browser.type("password", password)
    browser.click("#enter")


def test_a_person_logs_in_looks_and_logs_out(browser: Browser, guarded: Guarded) -> None:
    browser.open(guarded.url + BOARD)
    until_at(browser, "/login")
    log_in(browser, "a guess")
    browser.until_text("#answer", catalogue()["login"]["wrong"])
    assert violations(browser) == []
    log_in(browser, guarded.password)
    until_at(browser, f"/{BOARD}")
    browser.until(lambda: browser.text("#version") != "", "the feed")
    browser.click("#set-open")
    browser.until(lambda: browser.has("#log-out"), "the way out")
    assert violations(browser) == []
    browser.click("#log-out")
    until_at(browser, "/login")
    browser.open(guarded.url)
    until_at(browser, "/login")


def test_logging_out_everywhere_is_asked_twice_and_reaches_other_screens(
    browser: Browser, guarded: Guarded
) -> None:
    browser.open(guarded.url)
    log_in(browser, guarded.password)
    until_at(browser, "/")
    here = browser.driver.current_window_handle
    with opened() as bay:
        bay.driver.execute_cdp_cmd("Security.setIgnoreCertificateErrors", {"ignore": True})
        bay.open(guarded.url + BOARD)
        log_in(bay, guarded.password)
        bay.until(lambda: bay.text("#version") != "", "the feed")
        browser.driver.switch_to.window(here)
        browser.click("#set-open")
        browser.until(lambda: browser.has("#log-out-all"), "the way out")
        browser.click("#log-out-all")
        browser.until_text("#log-out-all", "Really?")
        assert path(browser) == "/"
        browser.click("#log-out-all")
        until_at(browser, "/login")
        until_at(bay, "/login")
        assert bay.run("return new URLSearchParams(location.search).get('next')") == f"/{BOARD}"


def test_a_screen_whose_server_was_away_while_its_session_ended_asks_to_log_in(
    browser: Browser, guarded: Guarded
) -> None:
    browser.open(guarded.url + BOARD)
    log_in(browser, guarded.password)
    browser.until(lambda: browser.text("#version") != "", "the feed")
    port = guarded.server.port
    assert guarded.server.stop() == 0
    refused: list[str] = []
    browser.until(lambda: tries_n(browser, refused) > 4, "some tries in vain")
    guarded.credentials.new_web_password()
    guarded.server.start(port)
    until_at(browser, "/login")


def tries_n(browser: Browser, refused: list[str]) -> int:
    """Count the board's tries to reach its feed, which the browser tells once each."""
    told = browser.complaints()
    refused += [one for one in told if "/feed" in one and "ERR_CONNECTION_REFUSED" in one]
    return len(refused)


def test_back_brings_no_page_back_once_somebody_logged_out(
    browser: Browser, guarded: Guarded
) -> None:
    browser.open(guarded.url + "new-job")
    log_in(browser, guarded.password)
    until_at(browser, "/new-job")
    browser.until(lambda: browser.run("return document.getElementById('log-out')"), "the way out")
    browser.run("location.href = '/'")
    until_at(browser, "/")
    browser.run("fetch('/api/v1/session', {method: 'DELETE'}).then(() => history.back())")
    until_at(browser, "/login")


@pytest.mark.parametrize(
    "next_page", ["https://evil.example/", "//evil.example", "/\\evil.example", "https://["]
)
def test_after_the_log_in_nobody_is_led_elsewhere(
    browser: Browser, guarded: Guarded, next_page: str
) -> None:
    browser.open(guarded.url + "login", next=next_page)
    log_in(browser, guarded.password)
    until_at(browser, "/")
    assert str(browser.run("return location.origin")) + "/" == guarded.url


def test_on_this_machine_nothing_is_to_be_logged_out_of(tmp_path: Path, browser: Browser) -> None:
    server = ServerProcess(tmp_path / "data")
    server.start()
    try:
        browser.open(server.url)
        browser.until(lambda: browser.has("#none"), "the page")
        browser.click("#set-open")
        assert not browser.has("#log-out")
    finally:
        server.stop()
