"""Replay recordings with known truth and hold the answers against the figures."""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

import msgspec
from rich.console import Console
from rich.progress import Progress

from drainscale_sim.score.figures import FIRST, REACH
from drainscale_sim.score.replays import Case, Replayed, find_cases, read_answer, replay_all
from drainscale_sim.score.report import Report, assess
from drainscale_sim.score.table import each_table, tables

CHECKOUT = Path(__file__).parents[3]
HELD = {"first": FIRST, "must": REACH}


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command.

    Returns:
        0; 1 where a recording gave no answer or one of the wrong form, or where a figure of the
        set named by ``--hold`` is short; 2 where the folder cannot be judged.
    """
    asked = _parser().parse_args(argv)
    try:
        cases = find_cases(asked.folder)
        answers = _answers(cases, asked)
        report = assess(answers)
    except (OSError, ValueError) as error:
        print(f"drainscale score: {error}", file=sys.stderr)
        return 2
    asked.out.mkdir(parents=True, exist_ok=True)
    summary = msgspec.json.format(msgspec.json.encode(report.summary()), indent=1)
    (asked.out / "summary.json").write_bytes(summary)
    console = Console()
    if asked.plots:
        # not needed, and not loaded, where nobody looks
        from drainscale_sim.score.plots import write_plots

        write_plots(answers, asked.out / "plots")
    if asked.each:
        console.print(each_table(report))
    console.print(tables(report))
    return 0 if report.is_sound and not _short(report, asked.hold) else 1


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="drainscale score", description=__doc__)
    parser.add_argument(
        "folder",
        type=Path,
        nargs="?",
        default=CHECKOUT / "tests/data/recordings",
        help="NAME.sensml.gz, NAME.job.toml, NAME.truth.json (default: the test recordings)",
    )
    parser.add_argument("--out", type=Path, default=Path("build/score"), help="results go here")
    parser.add_argument(
        "--results", type=Path, help="judge the NAME.json of this folder, replay nothing"
    )
    parser.add_argument("--plots", action="store_true", help="draw pictures as well, as PNG")
    parser.add_argument("--each", action="store_true", help="show a line a recording as well")
    parser.add_argument(
        "--hold", choices=sorted(HELD), help="exit with 1 if a figure of this set is short"
    )
    return parser


def _answers(cases: list[Case], asked: argparse.Namespace) -> list[Replayed]:
    if asked.results is not None:
        return [read_answer(case, asked.results) for case in cases]
    with Progress(console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task("replaying", total=len(cases))
        return replay_all(cases, asked.out / "results", lambda _: progress.advance(task))


def _short(report: Report, hold: str | None) -> bool:
    """Tell whether a figure of the held set is short.

    A folder need not hold a case of every figure to reach; of a first version's figures each
    recording gives one, so that silence there is short.
    """
    if hold is None:
        return False
    kept = [graded.keeps_must for graded in report.grades(HELD[hold])]
    return False in kept or (hold == "first" and None in kept)
