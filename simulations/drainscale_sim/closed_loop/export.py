"""Make a recording and a job file of what a spool holds of a job, as a board would hand it out."""

from dataclasses import dataclass
from pathlib import Path

from drainscale.errors import SpoolError
from drainscale.messages.records import Body, JobOpened, Samples
from drainscale.messages.topics import BenchId
from drainscale.recording.job_file import write_job
from drainscale.recording.records import Recording
from drainscale.recording.writer import write_recording
from drainscale.uplink.spool import Spool
from drainscale_sim.closed_loop.orders import NAMES


@dataclass(frozen=True)
class Exported:
    """The two files of a service."""

    recording: Path
    job: Path


def history(spool: Path, job: str) -> list[Body]:
    """Read all records of a job, in order.

    Raises:
        SpoolError: The spool cannot be used.
    """
    opened = Spool(spool, BenchId(NAMES.site, NAMES.bench))
    try:
        return list(opened.history(job))
    finally:
        opened.close()


def open_job_of(spool: Path) -> str | None:
    """Name the job that a killed agent left open.

    Raises:
        SpoolError: The spool cannot be used.
    """
    opened = Spool(spool, BenchId(NAMES.site, NAMES.bench))
    try:
        found = opened.open_job()
    finally:
        opened.close()
    return None if found is None else found.job


def last_kept_s(records: list[Body]) -> float:
    """Tell how far the records of a job reach, in s of the job."""
    ends = [body.samples[-1].t for body in records if isinstance(body, Samples)]
    ends += [t for body in records if (t := getattr(body, "t", None)) is not None]
    return max(ends, default=0.0)


def export(spool: Path, job: str, folder: Path) -> Exported:
    """Write the recording and the job file of a service.

    Raises:
        SpoolError: The spool cannot be used, or has no such job.
        FileExistsError: The files are there already.
    """
    records = history(spool, job)
    opened = next((one for one in records if isinstance(one, JobOpened)), None)
    if opened is None:
        raise SpoolError(f"{spool}: no job {job}")
    files = Exported(folder / "service.sensml", folder / "service.job.toml")
    samples = [one for body in records if isinstance(body, Samples) for one in body.samples]
    name = f"urn:dev:ops:{NAMES.site}.{NAMES.bench}:"
    write_recording(files.recording, Recording(name, opened.base_time_s, samples))
    write_job(files.job, opened.spec)
    return files
