"""Play a recorded service on this terminal, cue by cue, and hold its record against the truth."""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from rich.console import Console

from drainscale.recording.job_file import read_job
from drainscale.recording.senml import read_recording
from drainscale_sim.demo.core import Core
from drainscale_sim.demo.ending import ending, what_went_wrong
from drainscale_sim.demo.pace import Pace
from drainscale_sim.demo.playback import Playback
from drainscale_sim.demo.show import fits, show_lines, show_screen
from drainscale_sim.demo.sources import DEFAULT, find_source


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command.

    Returns:
        0 if the service ended as it should, else 1.

    Raises:
        InputError: The recording or its job is wrong.
    """
    asked = _parser().parse_args(argv)
    source = find_source(asked.recording, asked.job)
    job = read_job(source.job)
    recording = read_recording(source.recording)
    core = Core(job)
    playback = Playback(core, recording.samples)
    console = Console()
    if fits(console) and not asked.lines:
        pace = None if asked.fast else Pace(playback.duration_s, asked.speed)
        show_screen(console, playback, job, source.title, pace)
    else:
        show_lines(print, playback, None if asked.fast else asked.speed)
    result = core.result()
    console.print(ending(result, source.truth))
    wrong = what_went_wrong(result, playback.now.step, source.truth)
    for line in wrong:
        print(f"drainscale demo: {line}", file=sys.stderr)
    return 1 if wrong else 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="drainscale demo", description=__doc__)
    parser.add_argument(
        "--recording",
        default=DEFAULT,
        metavar="FILE",
        help="a recording, or the name of one that comes along (default: %(default)s)",
    )
    parser.add_argument("--job", type=Path, help="its job file (default: NAME.job.toml beside it)")
    parser.add_argument(
        "--speed",
        type=_speed,
        help="seconds of the service a second (default: the whole in about a minute)",
    )
    parser.add_argument("--fast", action="store_true", help="do not wait at all")
    parser.add_argument("--lines", action="store_true", help="print lines even on a terminal")
    return parser


def _speed(text: str) -> float:
    speed = float(text)
    if not 0.1 <= speed <= 10000.0:
        raise argparse.ArgumentTypeError(f"{text} is not within 0.1 and 10000")
    return speed
