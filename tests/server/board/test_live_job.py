"""The board follows a job, and never shows as current what is not."""

import pytest
from tests.server.board import states
from tests.server.board.browser import Browser
from tests.server.board.fake import Fake
from tests.server.board.recorded import service

from drainscale.signals.vocabulary import vocabulary


def test_board_follows_a_whole_service_cue_by_cue(browser: Browser, fake: Fake) -> None:
    browser.open(fake.board)
    for cue in service().told["cue"][:-1]:
        fake.show(cue["t"] + 0.01)
        browser.until_text("#word", vocabulary().cues[cue["cue"]].word)
        browser.until_text("#path .present", cue["step"].replace("-", " "))
    fake.show(states.OVER)
    browser.until_text("#word", "DONE")
    assert "Level set: shut in the window" in browser.text("#text")
    result = service().told["result"][-1]["result"]
    assert f"{result['drained']['volume_20C_L']:.3f}" in browser.text("#result-cells")
    assert f"{result['refill']['added_volume_20C_L']:.3f}" in browser.text("#result-cells")
    assert browser.has('#result-links a[href$="/record.pdf"]')
    assert browser.complaints() == []


def test_figure_of_the_step_is_the_biggest(browser: Browser, fake: Fake) -> None:
    browser.open(fake.board)
    shown = {}
    for t in (states.DRAINING, states.REFILLING, states.WARMING, states.RUNNING):
        fake.show(t)
        browser.until_moment(t)
        shown[t] = browser.text("#primary-label"), browser.text("#primary-value")
    assert shown[states.DRAINING] == ("Drained", "0.70L")
    assert shown[states.REFILLING] == ("Still to add", "1.72L")
    assert shown[states.WARMING] == ("Window opens in", "5:10")
    assert shown[states.RUNNING] == ("Flow", "263mL/min")


def test_temperature_stands_with_its_uncertainty_and_the_pan_beside(
    browser: Browser, fake: Fake
) -> None:
    fake.show(states.RUNNING)
    browser.open(fake.board)
    browser.until_text("#word", "WAIT")
    assert browser.text("#heat-label") == "Estimated fluid temperature"
    assert browser.text("#fluid") == "38.0°C± 2.0"
    assert browser.text("#place") == "in the window"
    assert browser.text("#pan") == "Pan clamp 34.0 °C"
    label = browser.run("return document.getElementById('vial').getAttribute('aria-label')")
    assert label == (
        "Estimated fluid temperature 38.0 °C ± 2.0, in the window; "
        "window 35.0 °C to 45.0 °C; pan clamp 34.0 °C"
    )


def test_forecasts_are_told_as_time_to_go_and_on_the_jobs_clock(
    browser: Browser, fake: Fake
) -> None:
    fake.show(states.RUNNING)
    browser.open(fake.board)
    browser.until_text('[data-forecast="closes"]', "in 4:22")
    browser.until_text('[data-forecast="closes"]', "job clock 36:27 (35:10 to 38:08)")
    browser.until_text('[data-forecast="finishes"]', "in 0:35")
    browser.until_text('[data-forecast="finishes"]', "% that it is thin inside the window")


@pytest.mark.parametrize(
    ("change", "struck", "current"),
    [
        (states.SCALE_STALE, ["#primary-value", '[data-cell="drained"] dd'], ["#fluid"]),
        (states.PAN_STALE, ["#fluid", "#pan"], ["#primary-value", '[data-cell="drained"] dd']),
    ],
)
def test_value_that_is_too_old_is_struck_and_the_rest_is_not(
    browser: Browser, fake: Fake, change: dict[str, object], struck: list[str], current: list[str]
) -> None:
    fake.show(states.DRAINING, change=change)
    browser.open(fake.board)
    browser.until_text(struck[0], "stale")
    for selector in struck:
        assert is_struck(browser, f"{selector} .value")
    for selector in current:
        assert not is_struck(browser, f"{selector} .value")


def is_struck(browser: Browser, selector: str) -> bool:
    """Tell whether a value is shown with a line through it."""
    style = browser.run(
        "return getComputedStyle(document.querySelector(arguments[0])).textDecorationLine", selector
    )
    return bool(style == "line-through")


def test_sensor_fault_is_named_and_its_value_withheld(browser: Browser, fake: Fake) -> None:
    fake.show(states.WARMING, change=states.PAN_FAULT)
    browser.open(fake.board)
    browser.until_text("#word", "FAULT")
    assert "Pan clamp gives no value" in browser.text("#faults")
    assert browser.text("#fluid").startswith("–")
    assert browser.text("#place") == "no value"
    assert browser.text("#pan") == "Pan clamp no value"
    assert browser.text("#primary-value") == "–"


def test_fault_of_the_kit_itself_is_told(browser: Browser, fake: Fake) -> None:
    fake.show(states.WARMING, change={"bench": {"kit_faults": ["spool: the disk is full"]}})
    browser.open(fake.board)
    browser.until_text("#faults", "Kit: spool: the disk is full")


def test_what_ails_the_server_is_told_too(browser: Browser, fake: Fake) -> None:
    fake.show(states.OVER, change={"server": {"faults": ["a damaged store was set aside"]}})
    browser.open(fake.board)
    browser.until_text("#faults", "Server: a damaged store was set aside")


def test_silent_kit_is_not_taken_for_a_live_one(browser: Browser, fake: Fake) -> None:
    fake.show(
        states.OPEN,
        change={
            "link": {"state": "offline", "reason": "lost", "last_message_s": 1795650000.0},
            "figures": {"link_is_stale": True},
        },
    )
    browser.open(fake.board)
    browser.until_text("#text", "The kit has not been heard since")
    assert browser.text("#word") == "NO LINK"
    assert "OPEN" not in browser.text("#now")
    assert is_struck(browser, "#fluid .value")
    assert is_struck(browser, '[data-cell="added"] .value')
    assert "use the foot switch" in browser.text("#confirm")


def test_wait_for_the_fluid_to_cool_says_when_to_start_again(browser: Browser, fake: Fake) -> None:
    cooling = {
        "cue": {"cue": "wait", "reason": "cooling", "text": "Cooling down."},
        "procedure": {"mode": "cooling"},
        "figures": {"cold_enough_s": 4200.0, "opens_s": None, "closes_s": None},
    }
    fake.show(states.WARMING, change=cooling)
    browser.open(fake.board)
    browser.until_text("#path .present", "warm: cooling down")
    assert browser.text("#primary-label") == "Cold enough to start in"
    assert browser.text("#primary-value") == "45:01"
    assert browser.text("#primary-more") == "job clock 1:10:00"


def test_bench_without_a_job_offers_a_new_one(browser: Browser, fake: Fake) -> None:
    fake.show(0.0, change=states.NO_JOB)
    browser.open(fake.board)
    browser.until_text("#word", "NO JOB")
    assert browser.has('#text a[href="/new-job?site=north&bench=bay-1"]')
    assert not browser.has("#dock")


def test_cautions_of_the_step_are_shown_the_gravest_big(browser: Browser, fake: Fake) -> None:
    fake.show(980.0)
    browser.open(fake.board)
    browser.until_text("#path .present", "circulate")
    assert "NOBODY UNDERNEATH" in browser.text("#grave")
    assert "Exhaust outdoors" in browser.text("#strip-list")
    assert "Carbon monoxide gives no warning." in browser.text("#caution-list")


def test_sound_is_off_until_it_is_switched_on_here(browser: Browser, fake: Fake) -> None:
    fake.show(states.WARMING)
    browser.open(fake.board)
    browser.until_text("#word", "WAIT")
    browser.run(
        "window.beeps = []; const beep = OscillatorNode.prototype.start;"
        "OscillatorNode.prototype.start = function (at) {"
        "  window.beeps.push(this.frequency.value); beep.call(this, at); }"
    )
    fake.show(states.OPEN)
    browser.until_text("#word", "OPEN")
    assert browser.run("return window.beeps") == []
    browser.click('#set input[name="sound"][value="on"]')
    sound = vocabulary().sounds["open"]
    wanted = [sound.pitch_Hz] * sound.beeps
    browser.until(lambda: browser.run("return window.beeps") == wanted, "three beeps, once")
