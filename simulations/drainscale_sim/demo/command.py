"""Follow a simulated service in closed loop, or a recorded one, on this terminal, cue by cue."""

import argparse
import sys
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from rich.console import Console

from drainscale.quantities.job import Job
from drainscale.recording.job_file import read_job
from drainscale.recording.senml import read_recording
from drainscale_sim.demo.closed_loop import SCENARIO, SEED, closed_loop
from drainscale_sim.demo.core import Core
from drainscale_sim.demo.course import Course
from drainscale_sim.demo.ending import ending, what_went_wrong
from drainscale_sim.demo.pace import Pace
from drainscale_sim.demo.playback import Playback
from drainscale_sim.demo.shop import Shop, ShopError
from drainscale_sim.demo.show import fits, show_lines, show_screen
from drainscale_sim.demo.sources import find_source
from drainscale_sim.scenarios.draw import scenario_names


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command.

    Returns:
        0 if the service ended as it should, else 1.

    Raises:
        InputError: The recording or its job is wrong.
    """
    asked = _parser().parse_args(argv)
    try:
        wrong = _run(asked) if asked.recording is None else _play(asked)
    except ShopError as error:
        wrong = [str(error), "without a server: --no-server"]
    for line in wrong:
        print(f"drainscale demo: {line}", file=sys.stderr)
    return 1 if wrong else 0


def _run(asked: argparse.Namespace) -> list[str]:
    """Run a service in closed loop; return what went wrong."""
    with closed_loop(asked.scenario, asked.seed, None if asked.no_server else _say) as loop:
        console = _show(asked, loop.running, loop.job, loop.title)
        outcome = loop.outcome()
        result = loop.running.answer
        if result is None:
            return outcome.broken
        console.print(ending(result, outcome.truth, outcome.judged))
        wrong = what_went_wrong(result, loop.running.now.step, outcome.truth, outcome.judged)
        if loop.shop is not None:
            _say(f"record {save_record(loop.shop, loop.job_id, asked.out)}")
            if console.is_terminal:
                _keep_up(loop.shop)
    return wrong


def _say(line: str) -> None:
    print(line, flush=True)


def save_record(shop: Shop, job: str, folder: Path) -> Path:
    """Fetch a job's record as a document and save it.

    Raises:
        ShopError: The server has none.
        OSError: It cannot be saved.
    """
    document = shop.get(f"jobs/{job}/record.pdf")
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"record-{job}.pdf"
    path.write_bytes(document)
    return path


def _keep_up(shop: Shop) -> None:
    """Leave the server there until somebody interrupts."""
    _say(f"board {shop.board} stays up; Ctrl-C ends it")
    with suppress(KeyboardInterrupt):
        while True:
            time.sleep(3600.0)


def _play(asked: argparse.Namespace) -> list[str]:
    """Play a recording; return what went wrong."""
    source = find_source(asked.recording, asked.job)
    job = read_job(source.job)
    core = Core(job)
    playback = Playback(core, read_recording(source.recording).samples)
    console = _show(asked, playback, job, source.title)
    result: Mapping[str, object] = core.result()
    console.print(ending(result, source.truth))
    return what_went_wrong(result, playback.now.step, source.truth)


def _show(asked: argparse.Namespace, course: Course, job: Job, title: str) -> Console:
    console = Console()
    if fits(console) and not asked.lines:
        pace = None if asked.fast else Pace(course.duration_s, asked.speed)
        show_screen(console, course, job, title, pace)
    else:
        show_lines(print, course, None if asked.fast else asked.speed)
    return console


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="drainscale demo", description=__doc__)
    parser.add_argument(
        "--recording",
        metavar="FILE",
        help="play a recording instead: a file, or the name of one that comes along",
    )
    parser.add_argument("--job", type=Path, help="its job file (default: NAME.job.toml beside it)")
    parser.add_argument(
        "--scenario",
        default=SCENARIO,
        choices=scenario_names(),
        metavar="NAME",
        help="what happens in closed loop (default: %(default)s; `simulate --list` names them)",
    )
    parser.add_argument(
        "--seed",
        type=int,
        default=SEED,
        metavar="N",
        help="which vehicle and day (default: %(default)s)",
    )
    parser.add_argument(
        "--speed",
        type=_speed,
        help="seconds of the service a second (default: the whole in about a minute)",
    )
    parser.add_argument(
        "--no-server", action="store_true", help="in closed loop without the shop's server"
    )
    parser.add_argument(
        "--out",
        type=Path,
        default=Path("out"),
        metavar="FOLDER",
        help="where the record's PDF goes (default: %(default)s)",
    )
    parser.add_argument("--fast", action="store_true", help="do not wait at all")
    parser.add_argument("--lines", action="store_true", help="print lines even on a terminal")
    return parser


def _speed(text: str) -> float:
    speed = float(text)
    if not 0.1 <= speed <= 10000.0:
        raise argparse.ArgumentTypeError(f"{text} is not within 0.1 and 10000")
    return speed
