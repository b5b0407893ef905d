"""The log of used oil as CSV: what was drained and spilled, job by job, the latest first."""

import csv
from collections.abc import Iterable, Iterator
from datetime import UTC, tzinfo
from io import StringIO

from drainscale_server.record.answer import Answer, read_answer
from drainscale_server.record.entries import Entries
from drainscale_server.record.figures import date_and_time
from drainscale_server.record.telling import used_oil_of
from drainscale_server.record.volumes import volumes_of
from drainscale_server.store.rows import JobRow, JobState
from drainscale_server.store.store import Store

HEADER = (
    "begun",
    "site",
    "bench",
    "job",
    "state",
    "vehicle",
    "drained_20C_L",
    "U_drained_20C_L",
    "spilled_20C_L",
    "U_spilled_20C_L",
    "pan_filter_kg",
    "used_oil_L",
    "used_oil_is_typed",
    "used_oil_container",
    "used_oil_log",
)
LOGGED_STATES: tuple[JobState, ...] = ("done", "aborted")
# a spreadsheet would take a cell that begins so for a formula
_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")


def used_oil_csv(store: Store, zone: tzinfo = UTC) -> Iterator[str]:
    """Write the log, line by line; never more than a page of jobs is held.

    Empty cells are "not measured" or "not told". Units stand in the header; volumes are at 20 °C,
    U with k = 2.

    Args:
        store: Where the jobs are.
        zone: For the dates.
    """
    yield _line(HEADER)
    for job in _jobs(store):
        yield _line(_cells(store, job, zone))


def _jobs(store: Store) -> Iterator[JobRow]:
    after: str | None = None
    while True:
        page = store.jobs(states=LOGGED_STATES, after=after)
        yield from page.rows
        after = page.after
        if after is None:
            return


def _cells(store: Store, job: JobRow, zone: tzinfo) -> list[str]:
    told = {key: entry.value for key, entry in store.record_entries(job.job).items()}
    entries = Entries(told)
    answer = read_answer(store.result(job.job)) or Answer()
    volumes = volumes_of(answer, None, None, None)
    used = used_oil_of(volumes, entries)
    begun = "" if job.opened_s is None else date_and_time(job.opened_s, zone)
    return [
        begun,
        job.site,
        job.bench,
        _text(job.job),
        job.state,
        _text(entries.text("vehicle")),
        _number(volumes.drained.value_L),
        _number(volumes.drained.U_L),
        _number(volumes.spilled.value_L),
        _number(volumes.spilled.U_L),
        _number(entries.number("pan_filter_kg")),
        _number(used.volume_L),
        "" if used.volume_L is None else str(used.is_typed).lower(),
        _text(used.container),
        _text(used.log_line),
    ]


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.4f}"


def _text(value: str | None) -> str:
    if value is None:
        return ""
    return f"'{value}" if value.startswith(_FORMULA_SIGNS) else value


def _line(cells: Iterable[str]) -> str:
    line = StringIO()
    csv.writer(line).writerow(cells)  # RFC 4180: comma, CR LF
    return line.getvalue()
