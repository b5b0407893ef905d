"""Read and write a job file: what one service is told beforehand, in TOML.

Every bound is in ``job_rules.py``. The first thing that is wrong raises a JobError that
names file, line, key, value and what is allowed.
"""

import dataclasses
import json
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from drainscale.errors import JobError
from drainscale.quantities.job import Job
from drainscale.recording.job_rules import JOB_FORMAT, SECTIONS
from drainscale.recording.ruled_toml import RuledToml, read_text

if TYPE_CHECKING:
    from _typeshed import DataclassInstance


def read_job(path: str | Path) -> Job:
    """Read a job file.

    Args:
        path: The file, TOML in UTF-8.

    Raises:
        JobError: No such file, not TOML, or a key that is unknown, missing or out of range.
    """
    return parse_job(read_text(path, JobError), str(path))


def parse_job(text: str, name: str) -> Job:
    """Read a job from the text of its file.

    Args:
        text: The TOML document.
        name: How messages call it.

    Raises:
        JobError: As ``read_job``.
    """
    tables = RuledToml(text, name, SECTIONS, JobError, JOB_FORMAT).tables()
    return msgspec.convert(tables, Job)


def job_text(job: Job) -> str:
    """Write a job as TOML; what holds by default is written out, what is unknown left out.

    Raises:
        JobError: The job holds a value that a job file may not hold.
    """
    lines = [f"format = {JOB_FORMAT}"]
    for section in SECTIONS:
        record = getattr(job, section)
        if record is not None:
            lines += section_lines(section, record)
    text = "\n".join(lines) + "\n"
    parse_job(text, "the job")  # what we could not read again is not written
    return text


def section_lines(name: str, record: "DataclassInstance") -> list[str]:
    """Write one table; what is unknown is left out."""
    known = {key: value for key, value in dataclasses.asdict(record).items() if value is not None}
    return ["", f"[{name}]", *(f"{key} = {_toml_value(value)}" for key, value in known.items())]


def write_job(path: str | Path, job: Job) -> None:
    """Write a job file that ``read_job`` reads back to the same job.

    Raises:
        JobError: The job holds a value that a job file may not hold.
        OSError: The file cannot be written.
    """
    Path(path).write_text(job_text(job), encoding="utf-8")


def _toml_value(value: object) -> str:
    if isinstance(value, str):
        return json.dumps(value)
    if isinstance(value, tuple):
        return "[" + ", ".join(_toml_value(item) for item in value) + "]"
    return repr(value)
