"""Simulate services by habit, without the kit, and write recordings with their truth."""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

import msgspec

from drainscale.recording.job_file import write_job
from drainscale.recording.records import Recording
from drainscale.recording.writer import write_recording
from drainscale_sim.scenarios.draw import scenario_names
from drainscale_sim.simulate.recorder import tape
from drainscale_sim.world.truth import truth_of
from drainscale_sim.world.world import World

BASE_TIME_S = 1_790_000_000.0  # an instant of its own; nothing hangs on it


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command.

    Returns:
        0; 2 for a scenario that is not there or a folder that cannot be written.
    """
    asked = _parser().parse_args(argv)
    if asked.list:
        print("\n".join(scenario_names()))
        return 0
    names = scenario_names() if asked.scenario == "all" else (asked.scenario,)
    try:
        asked.out.mkdir(parents=True, exist_ok=True)
        for name in names:
            for seed in range(asked.seed, asked.seed + asked.count):
                print(simulate(name, seed, asked.out))
    except (OSError, ValueError) as error:
        print(f"drainscale simulate: {error}", file=sys.stderr)
        return 2
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="drainscale simulate", description=__doc__)
    parser.add_argument(
        "out",
        type=Path,
        nargs="?",
        default=Path("build/simulated"),
        help="folder for NAME.sensml.gz, NAME.job.toml, NAME.truth.json",
    )
    parser.add_argument("--scenario", default="standpipe", help="name of one, or all")
    parser.add_argument("--seed", type=int, default=1, help="the first seed")
    parser.add_argument("--count", type=int, default=1, help="how many seeds")
    parser.add_argument("--list", action="store_true", help="name the scenarios")
    return parser


def simulate(scenario: str, seed: int, folder: Path) -> str:
    """Run one service and write its three files.

    Returns:
        The name that they have in common.

    Raises:
        ValueError: No such scenario, or the service was never finished.
        OSError: A file is there already, or cannot be written.
    """
    name = f"{scenario}-{seed:03d}"
    job, tape_file, truth_file = (
        folder / f"{name}.{end}" for end in ("job.toml", "sensml.gz", "truth.json")
    )
    there = next((path for path in (job, tape_file, truth_file) if path.exists()), None)
    if there is not None:
        raise FileExistsError(f"{there} is there already; nothing is written over")
    world = World.of(scenario, seed, follows_cues=False)
    taped = tape(world)
    truth = truth_of(name, world.bay, world.grid, taped.duration_s, taped.marks)
    write_job(job, world.setup.job)
    recording = Recording(f"urn:dev:ops:sim-{seed}:", BASE_TIME_S, taped.samples)
    write_recording(tape_file, recording, is_packed=True)
    truth_file.write_bytes(msgspec.json.encode(truth))
    return name
