"""The whole command ``drainscale replay`` on a long recording: time and memory.

Run as a module of its own, this is a launcher of a few MiB: Linux counts what a process was
forked from into its peak, and the bench holds a whole recording.
"""

import json
import os
import resource
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter

KIB_PER_MIB = 1024.0


@dataclass(frozen=True, slots=True)
class Replay:
    """What one run of the command took."""

    wall_s: float
    cpu_s: float
    peak_MiB: float


def time_replay(recording: Path, job: Path, answer: Path) -> Replay:
    """Run the command once, in a process of its own, on one core.

    Raises:
        subprocess.CalledProcessError: The replay failed.
    """
    launcher = [sys.executable, "-m", "drainscale_sim.bench.replaying"]
    command = [sys.executable, "-m", "drainscale", "replay", str(recording)]
    command += ["--job", str(job), "--json", str(answer)]
    told = subprocess.run([*launcher, *command], check=True, capture_output=True)
    return Replay(**json.loads(told.stdout))


def launch(command: list[str]) -> Replay:
    """Run a command on one core; peak memory is ``getrusage``'s (KiB on Linux)."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    started_s = perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    wall_s = perf_counter() - started_s
    usage = resource.getrusage(resource.RUSAGE_CHILDREN)
    return Replay(wall_s, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / KIB_PER_MIB)


if __name__ == "__main__":
    run = launch(sys.argv[1:])
    told = {"wall_s": run.wall_s, "cpu_s": run.cpu_s, "peak_MiB": run.peak_MiB}
    sys.stdout.write(json.dumps(told))
