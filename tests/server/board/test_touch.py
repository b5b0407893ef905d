"""Touches reach the kit, once, and what became of them is told."""

from dataclasses import replace

from tests.server.board import states
from tests.server.board.browser import Browser
from tests.server.board.fake import Fake
from tests.server.board.recorded import JOB, service

from drainscale.agent.foot import press
from drainscale.procedure.cue_facts import Cue, CueName
from drainscale.procedure.gate_book import GateBook
from drainscale.procedure.gate_facts import GateFacts
from drainscale.procedure.steps import Step
from drainscale.quantities.job import LevelMethod

SAYS = {
    326.6: "says: standpipe is coming out",
    709.6: "says: outlet is closed again",
    states.ENGINE: "says: brake held, wheels clear, nobody under",
    states.OPEN: "says: level plug is open",
    states.SHUT: "says: level plug is shut",
    states.SEALING: "says: level plug torqued",
    states.DRAINING: "nothing is asked now",
}
METHODS: tuple[LevelMethod, ...] = ("standpipe", "check-plug")
# the step that begins with what the button says
BEGUN_BY = {
    "standpipe-out": Step.DRAIN_PAN,
    "outlet-closed": Step.REFIT,
    "plug-open": Step.LEVEL,
    "plug-shut": Step.SEAL,
    "job-complete": Step.DONE,
}
READY = "return document.getElementById('confirm').getAttribute('aria-disabled') === null"


def ready(browser: Browser, says: str) -> None:
    """Wait until the button says so, and has for long enough to be pressed."""
    browser.until_text("#confirm", says)
    browser.run("window.began = performance.now()")
    browser.until(lambda: browser.run("return performance.now() - window.began > 520"), "half 1 s")
    browser.until(lambda: browser.run(READY), "a button that is ready")


def asked(browser: Browser, fake: Fake) -> list[dict[str, object]]:
    """Wait for what reached the server."""
    return browser.until(fake.asked, "something was posted")


def test_button_tells_what_a_press_says(browser: Browser, fake: Fake) -> None:
    browser.open(fake.board)
    for t, says in SAYS.items():
        fake.show(t)
        browser.until_text("#confirm", says)


def test_press_means_what_it_means_at_the_kit_s_foot_switch(browser: Browser, fake: Fake) -> None:
    browser.open(fake.board)
    asked = [(step, cue, method) for step in Step for cue in CueName for method in METHODS]
    shown = browser.driver.execute_async_script(
        "const [asked, done] = arguments; import('/static/board/js/dock.js').then((dock) =>"
        " done(asked.map((one) => dock.confirmOf(...one))))",
        [[str(part) for part in one] for one in asked],
    )
    for (step, cue, method), key in zip(asked, shown, strict=True):
        means = press(all_answered(method), GateFacts(step=step), Cue(cue, "draining")).step
        assert BEGUN_BY.get(key) == means, (step, cue, method)


def all_answered(method: LevelMethod) -> GateBook:
    """A book in which no gate is open, so that a press says something else."""
    book = GateBook(replace(service().spec.procedure, level_method=method))
    for gate in book.gates:
        book.tick(gate.id, gate.answers[0].key)
    return book


def test_press_after_a_failed_attempt_says_that_it_cools(browser: Browser, fake: Fake) -> None:
    # torqued already: the list for the end is asked, and a press starts over instead
    fake.show(2005.0, change={"cue": {"cue": "get-ready", "reason": "start-over", "text": "So."}})
    browser.open(fake.board)
    browser.until_text("#confirm", "says: plug shut, engine off: it cools")
    fake.show(states.SEALING, change={"cue": {"cue": "get-ready", "reason": "start-over"}})
    browser.until_text("#confirm", "says: level plug torqued")


def test_confirm_carries_job_and_step_and_its_answer_is_shown(browser: Browser, fake: Fake) -> None:
    fake.show(states.SHUT)
    browser.open(fake.board)
    ready(browser, "level plug is shut")
    browser.click("#confirm")
    browser.until_text("#answer", "Confirm: accepted")
    assert asked(browser, fake) == [
        {"command": "confirm", "step": "level", "job": JOB, "gate": None}
    ]


def test_refusal_is_shown_with_its_reason(browser: Browser, fake: Fake) -> None:
    fake.show(states.DRAINING)
    fake.answers(verdict="refused", reason="there is no step to go back to")
    browser.open(fake.board)
    ready(browser, "nothing is asked now")
    browser.click("#back")
    browser.until_text("#answer", "Take back: refused. there is no step to go back to")
    assert [one["command"] for one in asked(browser, fake)] == ["back"]


def test_kit_that_does_not_answer_is_told_from_one_that_refuses(
    browser: Browser, fake: Fake
) -> None:
    fake.show(states.SHUT)
    fake.answers(status=504, detail="the kit did not answer within 5 s")
    browser.open(fake.board)
    ready(browser, "level plug is shut")
    browser.click("#confirm")
    browser.until_text("#answer", "Confirm: not done. the kit did not answer within 5 s")


def test_second_touch_within_a_second_does_nothing(browser: Browser, fake: Fake) -> None:
    fake.show(states.SHUT)
    browser.open(fake.board)
    ready(browser, "level plug is shut")
    browser.run(
        "for (let n = 0; n < 3; n++) document.getElementById('confirm').click();"
        "document.getElementById('back').click()"
    )
    browser.until_text("#answer", "accepted")
    took_ms = browser.run("return performance.now() - window.began")
    browser.until(lambda: browser.run(READY), "a button that is ready again")
    assert browser.run("return performance.now() - window.began") > 1400, took_ms
    assert len(fake.asked()) == 1


def test_touch_on_a_button_that_changed_under_the_finger_is_not_sent(
    browser: Browser, fake: Fake
) -> None:
    fake.show(states.SHUT)
    browser.open(fake.board)
    ready(browser, "level plug is shut")
    browser.run(
        "new MutationObserver(() => document.getElementById('confirm').click())"
        ".observe(document.querySelector('#confirm .sub'), {childList: true})"
    )
    fake.show(states.SEALING)
    browser.until_text("#answer", "What is asked changed just now")
    assert fake.asked() == []


def test_gates_are_ticked_one_by_one_and_a_question_by_its_answer(
    browser: Browser, fake: Fake
) -> None:
    fake.show(states.BEFORE, change=states.nothing_ticked())
    browser.open(fake.board)
    browser.until_text("#ticks", "Before the drain is opened")
    browser.click('[data-gate="level-before-drain"] button')
    browser.until_text("#answer", "Tick vehicle level: accepted")
    browser.until(lambda: browser.run(READY), "a button that is ready again")
    browser.click('[data-gate="pan-and-filter"] .choice:nth-child(3)')
    browser.until_text("#answer", "Off, allowance raised: accepted")
    gates = [one["gate"] for one in fake.asked()]
    assert gates == ["level-before-drain", "pan-and-filter=allowance-raised"]


def test_tick_that_the_kit_has_is_shown_with_who_gave_it(browser: Browser, fake: Fake) -> None:
    fake.show(states.SEALING + 12)
    browser.open(fake.board)
    browser.until_text('[data-gate="check-plug-torqued"].ticked', "ticked, foot switch")
    assert browser.has('[data-gate="wiped-dry"] button')


def test_job_is_given_up_only_by_a_second_touch(browser: Browser, fake: Fake) -> None:
    fake.show(states.DRAINING)
    browser.open(fake.board)
    ready(browser, "nothing is asked now")
    browser.click("#stop")
    assert browser.has("#stop-yes")
    assert not browser.has("#confirm")
    browser.click("#stop-no")
    assert browser.has("#confirm")
    assert fake.asked() == []
    browser.click("#stop")
    browser.click("#stop-yes")
    assert [one["command"] for one in asked(browser, fake)] == ["abort"]


def test_nothing_is_sent_while_there_is_no_link(browser: Browser, fake: Fake) -> None:
    fake.show(states.SHUT, change={"figures": {"link_is_stale": True}})
    browser.open(fake.board)
    browser.until_text("#word", "NO LINK")
    for button in ("#confirm", "#back", "#stop"):
        browser.click(button)
    assert not browser.has("#stop-yes")
    assert fake.asked() == []
