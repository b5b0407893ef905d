"""Samples of old jobs, dropped from the file bit by bit. Within a writer's transaction.

A job is noted as dropped first, together with what the record needs of its samples; then they go,
some at a time. Whoever is killed in between goes on from there: nothing is half told.
"""

import sqlite3

_PLACE = "(SELECT place FROM job WHERE job = ?)"


def finished_jobs(db: sqlite3.Connection, before_s: float) -> list[str]:
    """Name the jobs that were over before an instant and have all of their samples."""
    rows = db.execute(
        "SELECT j.job FROM job j LEFT JOIN dropped d ON d.job = j.place"
        " WHERE j.state IN ('done', 'aborted') AND j.closed_s < ? AND d.job IS NULL"
        " ORDER BY j.place",
        (before_s,),
    )
    return [job for (job,) in rows.fetchall()]


def unfinished_jobs(db: sqlite3.Connection) -> list[str]:
    """Name the jobs that are noted as dropped and may have some of their samples yet."""
    rows = db.execute(
        "SELECT j.job FROM dropped d JOIN job j ON j.place = d.job WHERE d.is_finished = 0"
        " ORDER BY j.place"
    )
    return [job for (job,) in rows.fetchall()]


def begin(db: sqlite3.Connection, job: str, kept: bytes, messages_n: int, at_s: float) -> bool:
    """Note a job as dropped; False if it has other messages than it had when ``kept`` was made."""
    added = db.execute(
        "INSERT INTO dropped (job, at_s, kept) SELECT place, ?2, ?3 FROM job j WHERE j.job = ?1"
        " AND j.state IN ('done', 'aborted')"
        " AND (SELECT count(*) FROM message m WHERE m.job = j.place) = ?4 ON CONFLICT DO NOTHING",
        (job, at_s, kept, messages_n),
    )
    return added.rowcount == 1


def go_on(db: sqlite3.Connection, job: str, most_n: int) -> int:
    """Drop some more packs of a job that is noted as dropped; tell how many went."""
    gone_n = db.execute(
        "DELETE FROM message WHERE rowid IN (SELECT m.rowid FROM message m JOIN dropped d"
        f" ON d.job = m.job WHERE m.job = {_PLACE} AND m.leaf = 'samples' LIMIT ?)",
        (job, most_n),
    ).rowcount
    if gone_n < most_n:
        db.execute(f"UPDATE dropped SET is_finished = 1 WHERE job = {_PLACE}", (job,))
    return gone_n


def give_back(db: sqlite3.Connection, most_n: int) -> int:
    """Cut free pages off the file's end; tell how many there are left."""
    free_n = int(db.execute("PRAGMA freelist_count").fetchone()[0])
    for _ in range(min(free_n, most_n)):
        db.execute("PRAGMA incremental_vacuum(1)")  # Python steps a pragma once: one page
    return int(db.execute("PRAGMA freelist_count").fetchone()[0])


def kept_of(db: sqlite3.Connection, job: str) -> bytes | None:
    """Give what was kept of a job's samples; None if they are not dropped."""
    row = db.execute(f"SELECT kept FROM dropped WHERE job = {_PLACE}", (job,)).fetchone()
    return None if row is None else bytes(row[0])
