"""Run a playback in time: on a screen that moves, or as lines."""

import time
from collections.abc import Callable

from rich.console import Console
from rich.live import Live

from drainscale.quantities.job import Job
from drainscale_sim.demo.lines import LineTeller
from drainscale_sim.demo.pace import Pace
from drainscale_sim.demo.playback import Playback
from drainscale_sim.demo.screen import LEAST_COLUMNS, LEAST_ROWS, screen

FRAMES_PER_S = 10.0
MOST_FRAME_S = 0.5  # a machine that stalls lets the recording wait, not jump
FAST_FRAME_S = 10.0  # of the recording, without waiting
LINE_FRAME_S = 1.0

Wait = Callable[[float], None]


def fits(console: Console) -> bool:
    """Tell whether the terminal can show the screen."""
    width, height = console.size
    return console.is_terminal and width >= LEAST_COLUMNS and height >= LEAST_ROWS


def show_screen(
    console: Console, playback: Playback, job: Job, title: str, pace: Pace | None
) -> None:
    """Play on a screen of its own until the recording is over.

    Args:
        console: The terminal.
        playback: What is played.
        job: Its job.
        title: Its name.
        pace: How fast; ``None``: without waiting.
    """
    cue, since_s = playback.now.cue, time.monotonic()
    with Live(console=console, screen=True, auto_refresh=False) as live:
        last_s = since_s
        while not playback.is_over:
            if pace is not None:
                time.sleep(max(0.0, last_s + 1.0 / FRAMES_PER_S - time.monotonic()))
            now_s = time.monotonic()
            elapsed_s, last_s = min(now_s - last_s, MOST_FRAME_S), now_s
            moved_s = pace.step(elapsed_s, playback.now.cue) if pace else FAST_FRAME_S
            playback.advance(playback.t + moved_s)
            if playback.now.cue != cue:
                cue, since_s = playback.now.cue, now_s
            drawn = screen(playback, job, title, now_s - since_s, (console.width, console.height))
            live.update(drawn, refresh=True)


def show_lines(
    say: Callable[[str], None], playback: Playback, speed: float | None, wait: Wait = time.sleep
) -> None:
    """Play as lines until the recording is over.

    Args:
        say: Takes each line.
        playback: What is played.
        speed: Seconds of the recording a second; ``None``: without waiting.
        wait: Waits so many seconds.
    """
    teller = LineTeller()
    while not playback.is_over:
        fresh = playback.advance(playback.t + LINE_FRAME_S)
        for line in teller.lines(playback, fresh):
            say(line)
        if speed is not None:
            wait(LINE_FRAME_S / speed)
