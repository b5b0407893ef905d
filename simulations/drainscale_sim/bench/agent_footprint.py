"""What the agent takes of a small board: processor, memory, time to the first sample, imports."""

import json
import struct
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter

from drainscale.quantities.job import Job
from drainscale.quantities.samples import BoardReading, PanReading, ScaleCount, StepMark
from drainscale.recording.job_file import job_text
from drainscale.recording.records import Recording
from drainscale_sim.bench import agent_alone as alone


@dataclass(frozen=True, slots=True)
class Footprint:
    """What one run of the agent took."""

    cpu_s_per_h: float  # from the first sample on
    first_sample_s: float  # from the start of the process; the converter's settling not in it
    peak_MiB: float
    samples: int
    imports: tuple[str, ...]

    @property
    def strangers(self) -> tuple[str, ...]:
        """What it loaded and never should."""
        return tuple(name for name in self.imports if name in alone.NOT_THE_KITS)


def agent_footprint(recording: Recording, job: Job) -> Footprint:
    """Run the agent once on a recording's samples, in a process of its own.

    Raises:
        subprocess.CalledProcessError: The agent failed.
    """
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        _write(folder, recording, job)
        launcher = [sys.executable, "-m", "drainscale_sim.bench.replaying"]
        command = [sys.executable, "-m", "drainscale_sim.bench.agent_alone", str(folder)]
        spawned_s = perf_counter()  # of the machine, not of the process (CLOCK_MONOTONIC)
        told = subprocess.run(
            [*launcher, *command, str(spawned_s)], check=True, capture_output=True
        )
        report = json.loads((folder / alone.REPORT).read_text(encoding="utf-8"))
    return Footprint(
        cpu_s_per_h=report["cpu_s"] / report["simulated_s"] * 3600.0,
        first_sample_s=report["first_sample_s"],
        peak_MiB=json.loads(told.stdout)["peak_MiB"],
        samples=report["samples"],
        imports=tuple(report["imports"]),
    )


def _write(folder: Path, recording: Recording, job: Job) -> None:
    board_C, marks = 20.0, list[tuple[float, str]]()
    with (folder / alone.COUNTS).open("wb") as counts, (folder / alone.PANS).open("wb") as pans:
        for one in recording.samples:
            if isinstance(one, ScaleCount) and not one.is_supply:
                counts.write(struct.pack(alone.COUNT_FORM, one.t, one.count))
            elif isinstance(one, BoardReading):
                board_C = one.board_C
            elif isinstance(one, PanReading):
                pans.write(struct.pack(alone.PAN_FORM, one.t, one.pan_C, board_C))
            elif isinstance(one, StepMark):
                marks.append((one.t, one.step))
    ends_s = recording.samples[-1].t
    (folder / alone.MARKS).write_text(json.dumps([ends_s, marks]), encoding="utf-8")
    (folder / alone.JOB).write_text(job_text(job), encoding="utf-8")
