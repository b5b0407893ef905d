"""Read and write a job file: what one service is told beforehand, in TOML.

Every bound is in ``job_rules.py``. The first thing that is wrong raises a JobError that
names file, line, key, value and what is allowed.
"""

import dataclasses
import difflib
import json
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, NoReturn

import msgspec

from drainscale.errors import JobError
from drainscale.quantities.job import Job
from drainscale.recording.job_rules import JOB_FORMAT, REQUIRED, SECTIONS, Rule, Section
from drainscale.recording.toml_lines import find_line, split_place

_MAX_QUOTED = 60


def read_job(path: str | Path) -> Job:
    """Read a job file.

    Args:
        path: The file, TOML in UTF-8.

    Raises:
        JobError: No such file, not TOML, or a key that is unknown, missing or out of range.
    """
    try:
        raw = Path(path).read_bytes()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise JobError(f"{_one_line(path)}: {reason}") from error
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = 1 + raw.count(b"\n", 0, error.start)
        raise JobError(f"{_one_line(path)}, line {line}: not UTF-8 text") from error
    return parse_job(text, str(path))


def parse_job(text: str, name: str) -> Job:
    """Read a job from the text of its file.

    Args:
        text: The TOML document.
        name: How messages call it.

    Raises:
        JobError: As ``read_job``.
    """
    return _Document(text, _one_line(name)).job()


def job_text(job: Job) -> str:
    """Write a job as TOML; what holds by default is written out, what is unknown left out.

    Raises:
        JobError: The job holds a value that a job file may not hold.
    """
    lines = [f"format = {JOB_FORMAT}"]
    for section in SECTIONS:
        record = getattr(job, section)
        if record is None:
            continue
        lines += ["", f"[{section}]"]
        for key, value in dataclasses.asdict(record).items():
            if value is not None:
                lines.append(f"{key} = {_toml_value(value)}")
    text = "\n".join(lines) + "\n"
    parse_job(text, "the job")  # what we could not read again is not written
    return text


def write_job(path: str | Path, job: Job) -> None:
    """Write a job file that ``read_job`` reads back to the same job.

    Raises:
        JobError: The job holds a value that a job file may not hold.
        OSError: The file cannot be written.
    """
    Path(path).write_text(job_text(job), encoding="utf-8")


class _Document:
    """One job file's text while it is held against the rules."""

    def __init__(self, text: str, where: str) -> None:
        self._text = text
        self._where = where

    def job(self) -> Job:
        tables = self._parsed()
        self._check_format(tables.pop("format", JOB_FORMAT))
        self._refuse_unknown("", tables, ("format", *SECTIONS))
        found = {name: self._table(tables, name, rules) for name, rules in SECTIONS.items()}
        return msgspec.convert(found, Job)

    def _parsed(self) -> dict[str, Any]:
        try:
            return tomllib.loads(self._text)
        except (ValueError, RecursionError) as error:
            message, line = split_place(str(error))
            place = f", line {line}" if line else ""
            raise JobError(f"{self._where}{place}: not TOML: {_one_line(message)}") from error

    def _check_format(self, value: object) -> None:
        if type(value) is not int or value != JOB_FORMAT:
            self._refuse("", "format", value, f"{JOB_FORMAT}, the only one known here")

    def _table(self, tables: Mapping[str, Any], name: str, section: Section) -> Any:
        if name not in tables:
            if section.is_required:
                raise JobError(f"{self._where}: the table [{name}] is missing")
            return None
        table = tables[name]
        if not isinstance(table, dict):
            self._refuse("", name, table, f"a table [{name}]")
        self._refuse_unknown(name, table, section.rules)
        filled = {key: self._value(name, table, key, rule) for key, rule in section.rules.items()}
        for pair in section.pairs:
            if not pair.accepts(filled):
                self._refuse(name, pair.blamed_key, filled[pair.blamed_key], pair.allowed)
        return filled

    def _value(self, section: str, table: Mapping[str, Any], key: str, rule: Rule) -> object:
        if key not in table:
            if rule.default is not REQUIRED:
                return rule.default
            place = self._place(section, None)
            raise JobError(f"{place}: [{section}] lacks the key '{key}': {rule.allowed}")
        if not rule.accepts(table[key]):
            self._refuse(section, key, table[key], rule.allowed)
        return table[key]

    def _refuse_unknown(self, section: str, table: Iterable[str], known: Iterable[str]) -> None:
        names = list(known)
        for key in table:
            if key not in names:
                close = difflib.get_close_matches(key, names, n=1)
                hint = f"; did you mean '{close[0]}'?" if close else ""
                within = f"[{section}] has an " if section else ""
                shown = _shown(key)
                place = self._place(section, key)
                raise JobError(f"{place}: {within}unknown key {shown}{hint}")

    def _refuse(self, section: str, key: str, value: object, allowed: str) -> NoReturn:
        within = f"[{section}] " if section else ""
        given = "is not given" if value is None else f"= {_shown(value)}"
        place = self._place(section, key)
        raise JobError(f"{place}: {within}{key} {given}; allowed: {allowed}")

    def _place(self, section: str, key: str | None) -> str:
        line = find_line(self._text, section, key)
        return self._where if line is None else f"{self._where}, line {line}"


def _toml_value(value: object) -> str:
    if isinstance(value, str):
        return json.dumps(value)
    if isinstance(value, tuple):
        return "[" + ", ".join(_toml_value(item) for item in value) + "]"
    return repr(value)


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    try:
        text = ascii(value)
    except ValueError:  # an integer of thousands of digits
        text = "a number of very many digits"
    return text if len(text) <= _MAX_QUOTED else text[: _MAX_QUOTED - 3] + "..."


def _one_line(text: str | Path) -> str:
    return "".join(sign if sign.isprintable() else "?" for sign in str(text))
