"""A job's row: planned, begun, over; its id unique in the server. Within a writer's transaction."""

import sqlite3
from typing import Any

import msgspec

from drainscale.messages.records import JobClosed, JobOpened
from drainscale.messages.telegrams import JobOrder


def find_or_add(db: sqlite3.Connection, bench: int, kit_job: str, name: str) -> tuple[int, str]:
    """Find a bench's job that a message speaks of, or add it: nothing known but that it is there.

    It has begun then, whatever became of the message that says so.

    Args:
        db: The writer's connection.
        bench: Place of its bench.
        kit_job: What the bench calls it.
        name: Of the bench, to tell the job from another bench's of the same id.

    Returns:
        Its place, and what the server calls it.
    """
    row = db.execute(
        "SELECT place, job, state FROM job WHERE bench = ? AND kit_job = ?", (bench, kit_job)
    ).fetchone()
    if row is None:
        row = db.execute(
            "INSERT INTO job (job, bench, kit_job, state) VALUES (?, ?, ?, 'open')"
            " RETURNING place, job, state",
            (_free_id(db, kit_job, name), bench, kit_job),
        ).fetchone()
    place, job, state = row
    if state in ("planned", "taken-back"):
        db.execute("UPDATE job SET state = 'open' WHERE place = ?", (place,))
    return int(place), str(job)


def _free_id(db: sqlite3.Connection, kit_job: str, name: str) -> str:
    job, number = kit_job, 1
    while db.execute("SELECT 1 FROM job WHERE job = ?", (job,)).fetchone() is not None:
        job = f"{kit_job}~{name}" if number == 1 else f"{kit_job}~{name}~{number}"
        number += 1
    return job


def plan(db: sqlite3.Connection, bench: int, order: JobOrder, at_s: float) -> bool:
    """Add a job that is ordered; False if the id is taken."""
    added = db.execute(
        "INSERT OR IGNORE INTO job (job, bench, kit_job, state, label, ordered, ordered_s)"
        " VALUES (?, ?, ?, 'planned', ?, ?, ?)",
        (order.job, bench, order.job, order.label, msgspec.json.encode(order), at_s),
    )
    return added.rowcount == 1


def take_back(db: sqlite3.Connection, job: str) -> bool:
    """Take a planned job back; False if there is none such, or if it is no longer only planned."""
    return (
        db.execute(
            "UPDATE job SET state = 'taken-back' WHERE job = ? AND state = 'planned'", (job,)
        ).rowcount
        == 1
    )


def heard_of(db: sqlite3.Connection, job: int, base_time_s: float, is_clock_set: bool) -> None:
    """Note the job's clock, as each of its packs says it; only if it is not known yet."""
    db.execute(
        "UPDATE job SET base_time_s = ?, is_clock_set = ? WHERE place = ? AND base_time_s IS NULL",
        (base_time_s, is_clock_set, job),
    )


def opened(db: sqlite3.Connection, job: int, body: JobOpened, received_s: float) -> None:
    """Note what a job began with; one that is over stays so, for messages may come late.

    A job that was opened again (the bench had to begin its spool anew) keeps its first beginning.
    """
    db.execute(
        "UPDATE job SET base_time_s = ?, is_clock_set = ?, kit_version = ?, spec = ?, opened_s = ?"
        " WHERE place = ? AND spec IS NULL",
        (
            body.base_time_s,
            body.is_clock_set,
            body.kit_version,
            msgspec.json.encode(body.spec),
            body.base_time_s if body.is_clock_set else received_s,
            job,
        ),
    )


def closed(db: sqlite3.Connection, job: int, body: JobClosed, received_s: float) -> None:
    """Note that a job is over."""
    row: Any = db.execute(
        "SELECT base_time_s, is_clock_set FROM job WHERE place = ?", (job,)
    ).fetchone()
    base_time_s, is_clock_set = row
    closed_s = base_time_s + body.t if is_clock_set else received_s
    db.execute(
        "UPDATE job SET state = ?, closed_s = ? WHERE place = ?", (body.outcome, closed_s, job)
    )
