"""The board on the real server, broker and kit, in a simulated bay: live, killed, touched, done."""

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests.server.board.browser import Browser

from drainscale_sim.closed_loop.processes import Run
from drainscale_sim.demo.closed_loop import ClosedLoop, open_shop
from drainscale_sim.demo.shop import Shop

SCENARIO, SEED = "check-plug", 11  # a quick one
FAST_S, STEADY_S, SLOW_S = 25.0, 2.0, 0.4  # of the service, each PACE_S
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


def run_until(loop: ClosedLoop, seen: Callable[[], bool], step_s: float) -> None:
    """Let the service run on until something is seen; the kit waits where nobody reads it."""
    last_s = time.monotonic() + LONGEST_S
    while not seen():
        assert time.monotonic() < last_s, f"not seen by {loop.running.t:.0f} s"
        if not loop.running.is_over:
            loop.running.advance(loop.running.t + step_s)
        time.sleep(PACE_S)


def test_board_follows_a_live_service_through_a_killed_server_to_its_end(
    browser: Browser, loop: ClosedLoop
) -> None:
    shop = loop.shop
    assert shop is not None
    browser.open(shop.board)
    run_until(loop, lambda: "drain" in browser.text("#path .present"), FAST_S)
    run_until(loop, lambda: browser.text("#primary-value")[:1].isdigit(), SLOW_S)
    kill_and_restart(browser, loop, shop)
    run_until(loop, lambda: browser.text("#path .present") == "level", FAST_S)
    run_until(loop, lambda: browser.text("#path .present") == "seal", STEADY_S)
    tick(browser, loop, "wiped-dry")
    run_until(loop, lambda: browser.text("#word") == "DONE", FAST_S)
    assert loop.running.answer is not None
    drained_L = loop.running.answer["drained"]["volume_20C_L"]
    assert f"{drained_L:.3f}" in browser.text("#result-cells")
    notes = shop.get_json(f"jobs/{loop.job_id}/notes")["notes"]
    assert next(note["by"] for note in notes if note["key"] == "wiped-dry") == "board"
    assert b"%PDF" in shop.get(f"jobs/{loop.job_id}/record.pdf")[:8]


def kill_and_restart(browser: Browser, loop: ClosedLoop, shop: Shop) -> None:
    shop.kill()
    browser.until_text("#word", "NO LINK")
    shop.start()
    run_until(loop, lambda: browser.text("#word") not in ("", "NO LINK"), SLOW_S)
    assert "live" in browser.text("#link")


def tick(browser: Browser, loop: ClosedLoop, gate: str) -> None:
    """Tick a gate on the board and see that the kit has it."""
    run_until(loop, lambda: browser.has(f'[data-gate="{gate}"] button'), SLOW_S)
    browser.click(f'[data-gate="{gate}"] button')
    run_until(loop, lambda: browser.has(f'[data-gate="{gate}"].ticked'), SLOW_S)
    assert "ticked, board" in browser.text(f'[data-gate="{gate}"]')
