"""Takes the pictures of docs/images from a simulated service that is live on the real server.

    python -m tests.server.board.take_pictures docs/images          (make pictures)

World, kit, server and broker are processes of their own, as in `drainscale demo`; Chromium looks
at the board while the service runs, and is a wall, a tablet or a phone for each picture.
"""

import argparse
import sys
import time
from pathlib import Path

from PIL import Image
from tests.server.board.browser import Browser, opened

from drainscale_sim.demo.closed_loop import SCENARIO, SEED, ClosedLoop, closed_loop

# name, job's clock (s), size, settings
PICTURES = (
    ("board-drain", 120.0, "tablet", {"theme": "light", "distance": "1"}),
    ("board-refill", 850.0, "phone", {"theme": "dark", "distance": "1"}),
    ("board-warm", 1500.0, "wall", {"theme": "light", "distance": "3"}),
    ("board", 1940.0, "wall", {"theme": "dark", "distance": "3"}),
    ("board-done", 1e6, "tablet", {"theme": "dark", "distance": "1"}),
)
AHEAD_S = 60.0  # more than what the kit has told and nobody has read yet
FAST_S, SLOW_S = 10.0, 1.0  # of the service, each PACE_S
PACE_S = 0.05
COLOURS = 128


def shown_t(browser: Browser) -> float:
    """Tell which moment the board shows, s on the job's clock."""
    return float(browser.run("return document.body.dataset.t || -1"))


def run_to(loop: ClosedLoop, browser: Browser, t: float, query: dict[str, str]) -> None:
    """Let the service run until the board shows ``t``; slowly at last.

    The kit waits where nobody reads what it says, and then it is silent to the server as well: so
    it is read on, and the board decides when.
    """
    assert loop.shop is not None
    advance(loop, t - AHEAD_S, FAST_S)
    browser.open(loop.shop.board, **query)
    while shown_t(browser) < t and not loop.running.is_over:
        advance(loop, loop.running.t + SLOW_S, SLOW_S)


def advance(loop: ClosedLoop, until_t: float, step_s: float) -> None:
    """Let the service run on at the pace of the steps."""
    while loop.running.t < until_t and not loop.running.is_over:
        loop.running.advance(min(loop.running.t + step_s, until_t))
        time.sleep(PACE_S)


def save(browser: Browser, path: Path) -> None:
    """Save what is on the screen, in few colours so that the file is small."""
    picture = browser.picture().quantize(COLOURS, dither=Image.Dither.NONE)
    picture.save(path, optimize=True)
    kB = path.stat().st_size / 1000
    word = browser.text("#word")
    sys.stdout.write(f"{path.name}: {shown_t(browser):.0f} s, {word}, {kB:.0f} kB\n")


def say(line: str) -> None:
    """Say a line."""
    sys.stdout.write(f"{line}\n")


def main() -> int:
    """Run the service and take the pictures."""
    parser = argparse.ArgumentParser(description="Takes the pictures of the documentation.")
    parser.add_argument("folder", type=Path, help="where they go")
    folder = parser.parse_args().folder
    folder.mkdir(parents=True, exist_ok=True)
    with opened() as browser, closed_loop(SCENARIO, SEED, say) as loop:
        for name, t, size, query in PICTURES:
            browser.size(size)
            run_to(loop, browser, t, query)
            if loop.running.is_over:
                browser.until_text("#word", "DONE")
            save(browser, folder / f"{name}.png")
    return 0


if __name__ == "__main__":
    sys.exit(main())
