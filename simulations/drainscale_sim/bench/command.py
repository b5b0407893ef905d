"""Time the measuring core against a textbook filter, a long replay, and the agent on its own."""

import argparse
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median

from rich.console import Console
from rich.table import Table

from drainscale.quantities.job import Job
from drainscale.recording.job_file import job_text, read_job
from drainscale.recording.records import Recording
from drainscale.recording.senml import read_recording
from drainscale.recording.writer import create_recording
from drainscale_sim.bench.agent_footprint import Footprint, agent_footprint
from drainscale_sim.bench.fast_recording import made_fast
from drainscale_sim.bench.per_sample import Cost, sample_costs
from drainscale_sim.bench.replaying import Replay, time_replay
from drainscale_sim.bench.yardstick import filter_step_s

CHECKOUT = Path(__file__).parents[3]
STEPS = 10_000


@dataclass(frozen=True, slots=True)
class Line:
    """One figure of the bench with its limits, if it has any."""

    name: str
    value: float
    unit: str
    must: float | None = None
    aim: float | None = None
    is_least: bool = False  # the limits are lower ones

    def keeps(self, limit: float | None) -> bool | None:
        """Whether the figure keeps a limit."""
        if limit is None:
            return None
        return self.value >= limit if self.is_least else self.value <= limit


def main(argv: Sequence[str]) -> int:
    """Run the command.

    Returns:
        0; 1 with ``--hold`` where a *must* is missed; 2 where the recording cannot be read.
    """
    asked = _parser().parse_args(argv)
    try:
        recording, job = read_recording(asked.recording), read_job(_job_of(asked.recording))
    except (OSError, ValueError) as error:
        print(f"bench: {error}", file=sys.stderr)
        return 2
    fast, fast_job = made_fast(recording, job)
    lines = [*_per_sample(recording, job, fast, fast_job, asked.rounds)]
    lines += _replay_lines(_replays(fast, fast_job, asked.rounds))
    slow_agent, fast_agent = agent_footprint(recording, job), agent_footprint(fast, fast_job)
    lines += _agent_lines(slow_agent, fast_agent)
    Console().print(_table(lines))
    print(f"the agent loads: {', '.join(fast_agent.imports)}")
    return 1 if asked.hold and any(line.keeps(line.must) is False for line in lines) else 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m drainscale_sim.bench", description=__doc__)
    parser.add_argument(
        "recording",
        type=Path,
        nargs="?",
        default=CHECKOUT / "tests/data/recordings/ordinary-marked.sensml.gz",
        help="NAME.sensml.gz at ten readings a second, its NAME.job.toml beside it",
    )
    parser.add_argument("--rounds", type=int, default=5, help="how often all is timed")
    parser.add_argument("--hold", action="store_true", help="exit with 1 if a must is missed")
    return parser


def _job_of(recording: Path) -> Path:
    name = recording.name.removesuffix(".gz").removesuffix(".sensml")
    return recording.with_name(f"{name}.job.toml")


def _per_sample(
    slow: Recording, slow_job: Job, fast: Recording, fast_job: Job, rounds: int
) -> list[Line]:
    """Costs a sample: each round times the core beside the textbook filter, the median counts."""
    ratios, fast_costs, slow_costs, steps_s = [], [], [], []
    for _ in range(rounds):
        before_s = filter_step_s(STEPS)
        cost = sample_costs(fast.samples, fast_job)
        step_s = 0.5 * (before_s + filter_step_s(STEPS))
        ratios.append(step_s / cost["ScaleCount"].each_s)
        steps_s.append(step_s)
        fast_costs.append(cost)
        slow_costs.append(sample_costs(slow.samples, slow_job))
    return [
        Line("textbook filter, predict and update", _us(median(steps_s)), "µs"),
        Line("core, a scale sample (80 a second)", _each_us(fast_costs, "ScaleCount"), "µs"),
        Line("... cheaper than the filter by", median(ratios), "times", 3.0, 5.0, is_least=True),
        Line("core, a scale sample (10 a second)", _each_us(slow_costs, "ScaleCount"), "µs"),
        Line("core, a pan sample", _each_us(fast_costs, "PanReading"), "µs"),
    ]


def _us(seconds: float) -> float:
    return 1e6 * seconds


def _each_us(costs: list[dict[str, Cost]], kind: str) -> float:
    return _us(median(cost[kind].each_s for cost in costs))


def _replays(fast: Recording, job: Job, rounds: int) -> list[Replay]:
    with tempfile.TemporaryDirectory() as folder:
        there = Path(folder)
        path, job_path = there / "long.sensml.gz", there / "long.job.toml"
        with create_recording(path, fast.name, fast.base_time_s) as writer:
            for sample in fast.samples:
                writer.write(sample)
        job_path.write_text(job_text(job), encoding="utf-8")
        return [time_replay(path, job_path, there / "answer.json") for _ in range(rounds)]


def _replay_lines(replays: list[Replay]) -> list[Line]:
    return [
        Line("replay, 45 min at 80 a second: wall", median(r.wall_s for r in replays), "s", 6, 2),
        Line("... processor", median(r.cpu_s for r in replays), "s"),
        Line("... peak memory", max(r.peak_MiB for r in replays), "MiB", 80),
    ]


def _agent_lines(slow: Footprint, fast: Footprint) -> list[Line]:
    strangers = {*slow.strangers, *fast.strangers}
    return [
        Line("agent, 10 samples a second: processor", slow.cpu_s_per_h, "s/h"),
        Line("agent, 80 samples a second: processor", fast.cpu_s_per_h, "s/h"),
        Line("... peak memory", max(slow.peak_MiB, fast.peak_MiB), "MiB", 64),
        Line("... start to first sample", min(slow.first_sample_s, fast.first_sample_s), "s"),
        Line("... libraries it should not load", len(strangers), "", 0),
    ]


def _table(lines: list[Line]) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0))
    table.add_column("figure")
    for heading in ("measured", "", "must", "", "aim", ""):
        table.add_column(heading, justify="right" if heading != "" else "left")
    for line in lines:
        sign = "≥" if line.is_least else "≤"
        table.add_row(
            line.name, f"{line.value:.2f}", line.unit,
            _limit(sign, line.must), _mark(line.keeps(line.must), "SHORT"),
            _limit(sign, line.aim), _mark(line.keeps(line.aim), "no"),
        )  # fmt: skip
    return table


def _limit(sign: str, limit: float | None) -> str:
    return "" if limit is None else f"{sign} {limit:g}"


def _mark(kept: bool | None, short: str) -> str:
    return "" if kept is None else "ok" if kept else short
