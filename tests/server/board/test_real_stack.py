"""The board on the real server, broker and kit, in a simulated bay: live, killed, touched, done."""

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests.server.board.browser import PATIENCE_S, Browser

from drainscale_sim.closed_loop.processes import Run
from drainscale_sim.demo.closed_loop import ClosedLoop, open_shop
from drainscale_sim.demo.shop import Shop

SCENARIO, SEED = "check-plug", 11  # a quick one
FAST_S, STEADY_S, SLOW_S, TOUCH_S = 25.0, 2.0, 0.4, 0.1  # of the service, each PACE_S
PACE_S = 0.1
LONGEST_S = 300.0  # a whole service on a busy machine


@pytest.fixture
def loop(tmp_path: Path) -> Iterator[ClosedLoop]:
    with (
        Run(SCENARIO, SEED, tmp_path).world() as world,
        open_shop(tmp_path / "shop", lambda _line: None) as shop,
    ):
        loop = ClosedLoop(SCENARIO, SEED, tmp_path, world, shop)
        yield loop
        loop.close()


def run_until(
    browser: Browser, loop: ClosedLoop, step_s: float, seen: Callable[[], bool], wanted: str
) -> None:
    """Let the service run on until something is seen; the kit waits where nobody reads it."""
    last_s = time.monotonic() + LONGEST_S
    while not seen():
        if loop.running.is_over:
            last_s = min(last_s, time.monotonic() + PATIENCE_S)
        else:
            loop.running.advance(loop.running.t + step_s)
        now = f"{loop.running.t:.0f} s, {browser.text('#word')}, {browser.text('#answer')}"
        assert time.monotonic() < last_s, f"{wanted}: not seen by {now}"
        time.sleep(PACE_S)


def is_step(browser: Browser, *steps: str) -> bool:
    """Tell whether the board shows one of these steps."""
    return browser.text("#path .present") in steps


def has_figure(browser: Browser) -> bool:
    """Tell whether the figure of the step is a number."""
    return browser.text("#primary-value")[:1].isdigit()


def is_live(browser: Browser) -> bool:
    """Tell whether the board shows a cue again."""
    return browser.text("#word") not in ("", "NO LINK")


def test_board_follows_a_live_service_through_a_killed_server_to_its_end(
    browser: Browser, loop: ClosedLoop
) -> None:
    shop = loop.shop
    assert shop is not None
    browser.open(shop.board)
    run_until(browser, loop, FAST_S, lambda: is_step(browser, "drain"), "drain")
    run_until(browser, loop, SLOW_S, lambda: has_figure(browser), "a figure")
    kill_and_restart(browser, loop, shop)
    run_until(browser, loop, FAST_S, lambda: is_step(browser, "level", "seal"), "level")
    run_until(browser, loop, STEADY_S, lambda: is_step(browser, "seal"), "seal")
    tick(browser, loop, "wiped-dry")
    run_until(browser, loop, FAST_S, lambda: browser.text("#word") == "DONE", "the end")
    assert loop.running.answer is not None
    drained_L = loop.running.answer["drained"]["volume_20C_L"]
    assert f"{drained_L:.3f}" in browser.text("#result-cells")
    notes = shop.get_json(f"jobs/{loop.job_id}/notes")["notes"]
    assert next(note["by"] for note in notes if note["key"] == "wiped-dry") == "board"
    assert b"%PDF" in shop.get(f"jobs/{loop.job_id}/record.pdf")[:8]
    complete_record(browser, loop, shop)
    order_the_like(browser, shop)


def complete_record(browser: Browser, loop: ClosedLoop, shop: Shop) -> None:
    browser.open(f"{shop.url}record-data/{loop.job_id}", units="metric")
    browser.until(lambda: browser.has("#form button"), "the form")
    browser.type("f-torque_level_plug", "27")
    browser.click("#form button[type=submit]")
    browser.until_text("#answer", "It stands on the record.")
    record = shop.get_json(f"jobs/{loop.job_id}/record")["record"]
    assert record["torques"] == [{"part": "level plug", "torque_Nm": 27.0}]
    assert record["mileage_km"] == 118_400.0  # untouched


def order_the_like(browser: Browser, shop: Shop) -> None:
    browser.complaints()  # those of the server that was gone
    browser.open(shop.url)
    browser.until(lambda: browser.has('#benches a[href="/board/north/bay-1"]'), "the bench")
    browser.open(f"{shop.url}new-job")
    browser.until(lambda: browser.has(".template"), "the job that is done, as a template")
    browser.click(".template")
    browser.type("f-mileage", "60000")
    browser.click("#form button[type=submit]")
    browser.until_text("#answer", "is waiting for bay-1")
    states = [job["state"] for job in shop.get_json("jobs")["jobs"]]
    assert sorted(states) == ["done", "planned"]
    assert browser.complaints() == []


def kill_and_restart(browser: Browser, loop: ClosedLoop, shop: Shop) -> None:
    shop.kill()
    browser.until_text("#word", "NO LINK")
    shop.start()
    run_until(browser, loop, SLOW_S, lambda: is_live(browser), "a live board")
    assert "live" in browser.text("#link")


def tick(browser: Browser, loop: ClosedLoop, gate: str) -> None:
    """Tick a gate on the board and see that the kit has it."""
    button = f'[data-gate="{gate}"] button:not([aria-disabled])'

    def is_ticked() -> bool:
        if browser.has(button):  # again: on a busy machine an order may come too late
            browser.click(button)
        return "ticked, board" in browser.text(f'[data-gate="{gate}"]')

    run_until(browser, loop, TOUCH_S, is_ticked, gate)
