"""The board outlives its server, a cut stream and a silent one."""

from tests.server.board import states
from tests.server.board.browser import Browser
from tests.server.board.fake import Fake

COUNT_LOST = (
    "new MutationObserver(() => { window.lost += document.body.dataset.link === 'lost' })"
    ".observe(document.body, {attributes: true})"
)


def test_board_survives_a_server_that_is_killed_and_started_again(
    browser: Browser, fake: Fake
) -> None:
    fake.show(states.RUNNING)
    browser.open(fake.board)
    browser.until_text("#primary-value", "263")
    fake.kill()
    browser.until_text("#word", "NO LINK")
    assert "Nothing came from here since" in browser.text("#text")
    assert "no link since" in browser.text("#link")
    assert "stale" in browser.text("#primary-value")
    fake.start()
    fake.show(states.SHUT)
    browser.until_text("#word", "SHUT")
    assert "stale" not in browser.text("#primary-value")
    assert "live" in browser.text("#link")


def test_stream_that_falls_silent_without_a_word_is_noticed(browser: Browser, fake: Fake) -> None:
    fake.show(states.OPEN)
    browser.open(fake.board)
    browser.until_text("#word", "OPEN")
    fake.silence(True)
    browser.until_text("#word", "NO LINK")
    assert browser.run("return document.getElementById('confirm').getAttribute('aria-disabled')")
    fake.silence(False)
    browser.until_text("#word", "OPEN")


def test_quiet_bench_is_no_lost_one(browser: Browser, fake: Fake) -> None:
    # nothing changes, so only beats come: longer than the board would believe silence
    fake.show(0.0, change=states.NO_JOB)
    browser.open(fake.board)
    browser.until_text("#link", "live")
    browser.run("window.lost = 0; window.began = performance.now()")
    browser.run(COUNT_LOST)
    browser.until(lambda: browser.run("return performance.now() - window.began > 3900"), "4 s")
    assert browser.run("return window.lost") == 0
    assert "live" in browser.text("#link")


def test_stream_that_asks_to_come_again_is_opened_anew_without_a_word(
    browser: Browser, fake: Fake
) -> None:
    fake.show(states.RUNNING)
    browser.open(fake.board)
    browser.until_text("#link", "live")
    browser.run("window.lost = 0")
    browser.run(COUNT_LOST)
    opened_n = fake.streams_opened()
    fake.end_streams()
    browser.until(lambda: fake.streams_opened() == opened_n + 1, "another stream")
    fake.show(states.SHUT)
    browser.until_text("#word", "SHUT")
    assert browser.run("return window.lost") == 0
    assert fake.streams() == 1


def test_hidden_tab_holds_no_stream_and_comes_back(browser: Browser, fake: Fake) -> None:
    fake.show(states.WARMING)
    browser.open(fake.board)
    browser.until_text("#link", "live")
    browser.until(lambda: fake.streams() == 1, "one stream")
    hide(browser, "hidden")
    browser.until(lambda: fake.streams() == 0, "no stream while hidden")
    assert "paused" in browser.text("#link")
    hide(browser, "visible")
    browser.until_text("#link", "live")
    browser.until(lambda: fake.streams() == 1, "one stream again")


def hide(browser: Browser, state: str) -> None:
    """Say to the page that it is hidden, or seen again."""
    browser.run(
        "const said = {value: arguments[0], configurable: true};"
        "Object.defineProperty(document, 'visibilityState', said);"
        "document.dispatchEvent(new Event('visibilitychange'))",
        state,
    )


def test_five_displays_are_all_live_and_the_fifth_can_still_press(
    browser: Browser, fake: Fake
) -> None:
    # a browser opens six connections to one server at most: five streams, one press
    fake.show(states.OPEN)
    first = browser.driver.current_window_handle
    browser.open(fake.board)
    for _ in range(4):
        browser.driver.switch_to.new_window("window")
        browser.open(fake.board)
    try:
        browser.until(lambda: fake.streams() == 5, "five streams")
        fake.show(states.SHUT)
        for handle in browser.driver.window_handles:
            browser.driver.switch_to.window(handle)
            browser.until_text("#word", "SHUT")
        browser.until(lambda: "level plug is shut" in browser.text("#confirm"), "a steady button")
        browser.until(lambda: press_is_taken(browser), "accepted")
        assert fake.asked()[0]["command"] == "confirm"
    finally:
        for handle in browser.driver.window_handles:
            if handle != first:
                browser.driver.switch_to.window(handle)
                browser.driver.close()
        browser.driver.switch_to.window(first)


def press_is_taken(browser: Browser) -> bool:
    """Press until it is taken: what has only just changed is not."""
    if "accepted" in browser.text("#answer"):
        return True
    browser.click("#confirm")
    return False
