"""The longer questions to the spool's database, within the caller's transaction."""

import sqlite3
from itertools import pairwise

from drainscale.uplink.batches import Gap

REMEMBERED_JOBS_N = 1000  # a retained order is the last one: years of them are plenty


def place_of(db: sqlite3.Connection, job: str | None) -> int | None:
    """Find a job's row; none for None.

    Raises:
        ValueError: The job was never opened here.
    """
    if job is None:
        return None
    row = db.execute("SELECT place FROM jobs WHERE job = ?", (job,)).fetchone()
    if row is None:
        raise ValueError(f"job {job} was never opened here")
    return int(row[0])


def stored_gaps(db: sqlite3.Connection, job: str) -> list[Gap]:
    """Tell the stretches of a job between two boots, and those that the disk refused."""
    spans = db.execute(
        "SELECT min(first_t), max(last_t) FROM messages WHERE first_t IS NOT NULL AND"
        " job = (SELECT place FROM jobs WHERE job = ?) GROUP BY boot ORDER BY boot",
        (job,),
    ).fetchall()
    lost = db.execute(
        "SELECT from_s, to_s FROM gaps WHERE job = (SELECT place FROM jobs WHERE job = ?)",
        (job,),
    ).fetchall()
    between = [Gap(before[1], after[0]) for before, after in pairwise(spans)]
    return [*between, *(Gap(*row) for row in lost)]


def delete_delivered(db: sqlite3.Connection, limit_n: int) -> int:
    """Delete messages that are acknowledged and whose job is closed; tell how many went."""
    return db.execute(
        "DELETE FROM messages WHERE rowid IN (SELECT m.rowid FROM messages m"
        " JOIN boots b ON b.place = m.boot LEFT JOIN jobs j ON j.place = m.job"
        " WHERE m.seq <= b.through AND coalesce(j.is_closed, 1) LIMIT ?)",
        (limit_n,),
    ).rowcount


def give_up_jobs(db: sqlite3.Connection, keep_n: int) -> tuple[int, list[tuple[str, int]]]:
    """Delete all closed jobs but the last, and take their messages for acknowledged.

    Returns:
        How many messages went, and the highest number of each boot among them.
    """
    old = "job IN (SELECT place FROM jobs WHERE is_closed ORDER BY place DESC LIMIT -1 OFFSET ?)"
    given_up = db.execute(
        "SELECT b.boot, max(m.seq) FROM messages m JOIN boots b ON b.place = m.boot"
        f" WHERE m.{old} GROUP BY b.place",
        (keep_n,),
    ).fetchall()
    gone = db.execute(f"DELETE FROM messages WHERE {old}", (keep_n,)).rowcount
    for boot, seq in given_up:
        db.execute("UPDATE boots SET through = max(through, ?) WHERE boot = ?", (seq, boot))
    return gone, given_up


def delete_empty(db: sqlite3.Connection, present_boot: str) -> list[str]:
    """Delete closed jobs and past boots that hold no message any more; tell the boots."""
    empty = "NOT EXISTS (SELECT 1 FROM messages WHERE messages.job = jobs.place)"
    db.execute(
        f"DELETE FROM gaps WHERE job IN (SELECT place FROM jobs WHERE is_closed AND {empty})"
    )
    db.execute(f"DELETE FROM jobs WHERE is_closed AND {empty}")
    gone = db.execute(
        "DELETE FROM boots WHERE boot <> ? AND"
        " NOT EXISTS (SELECT 1 FROM messages WHERE messages.boot = boots.place)"
        " RETURNING boot",
        (present_boot,),
    ).fetchall()
    return [boot for (boot,) in gone]


def note_begun(db: sqlite3.Connection, job: str) -> None:
    """Note a job as begun.

    The table is made when it is first needed: a bench that takes no orders has none, and an older
    kit does not look at it.
    """
    db.execute("CREATE TABLE IF NOT EXISTS begun (place INTEGER PRIMARY KEY, job TEXT UNIQUE)")
    db.execute("INSERT OR IGNORE INTO begun (job) VALUES (?)", (job,))
    db.execute(
        "DELETE FROM begun WHERE place <= (SELECT max(place) FROM begun) - ?", (REMEMBERED_JOBS_N,)
    )


def told_begun(db: sqlite3.Connection) -> frozenset[str]:
    """Name the jobs that were noted as begun."""
    found = db.execute("SELECT 1 FROM sqlite_schema WHERE name = 'begun'").fetchone()
    if found is None:
        return frozenset()
    return frozenset(job for (job,) in db.execute("SELECT job FROM begun"))
