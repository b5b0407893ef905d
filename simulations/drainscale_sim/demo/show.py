"""Show a service in time: on a screen that moves, or as lines."""

import time
from collections.abc import Callable

from rich.console import Console
from rich.live import Live

from drainscale.quantities.job import Job
from drainscale_sim.demo.course import Course
from drainscale_sim.demo.lines import LineTeller
from drainscale_sim.demo.pace import Pace
from drainscale_sim.demo.screen import LEAST_COLUMNS, LEAST_ROWS, screen

FRAMES_PER_S = 10.0
MOST_FRAME_S = 0.5  # a machine that stalls lets the service wait, not jump
FAST_FRAME_S = 10.0  # of the service, without waiting
LINE_FRAME_S = 1.0

Wait = Callable[[float], None]


def fits(console: Console) -> bool:
    """Tell whether the terminal can show the screen."""
    width, height = console.size
    return console.is_terminal and width >= LEAST_COLUMNS and height >= LEAST_ROWS


def show_screen(console: Console, course: Course, job: Job, title: str, pace: Pace | None) -> None:
    """Play on a screen of its own until the service is over.

    Args:
        console: The terminal.
        course: What is shown.
        job: Its job.
        title: Its name.
        pace: How fast; ``None``: without waiting.
    """
    cue, since_s = course.now.cue, time.monotonic()
    with Live(console=console, screen=True, auto_refresh=False) as live:
        last_s = since_s
        while not course.is_over:
            if pace is not None:
                time.sleep(max(0.0, last_s + 1.0 / FRAMES_PER_S - time.monotonic()))
            now_s = time.monotonic()
            elapsed_s, last_s = min(now_s - last_s, MOST_FRAME_S), now_s
            moved_s = pace.step(elapsed_s, course.now.cue) if pace else FAST_FRAME_S
            course.advance(course.t + moved_s)
            if course.now.cue != cue:
                cue, since_s = course.now.cue, now_s
            drawn = screen(course, job, title, now_s - since_s, (console.width, console.height))
            live.update(drawn, refresh=True)


def show_lines(
    say: Callable[[str], None], course: Course, speed: float | None, wait: Wait = time.sleep
) -> None:
    """Play as lines until the service is over.

    Args:
        say: Takes each line.
        course: What is shown.
        speed: Seconds of the service a second; ``None``: without waiting.
        wait: Waits so many seconds.
    """
    teller = LineTeller()
    while not course.is_over:
        fresh = course.advance(course.t + LINE_FRAME_S)
        for line in teller.lines(course, fresh):
            say(line)
        if speed is not None:
            wait(LINE_FRAME_S / speed)
