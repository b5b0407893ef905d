"""The questions of the readers: SQL and rows, within the caller's transaction."""

import logging
import sqlite3
from collections.abc import Sequence
from typing import Any, TypeVar

import msgspec

from drainscale.messages.telegrams import JobOrder, Status
from drainscale.quantities.job import Job
from drainscale_server.store.rows import (
    BenchRow,
    CueRow,
    EventRow,
    FaultRow,
    JobRow,
    JobState,
    MessageRow,
    NoteRow,
    QuarantineRow,
    RecordEntry,
)

Kind = TypeVar("Kind")
_log = logging.getLogger(__name__)
CHUNK_N = 200  # messages at once: some 100 kB of packs
_BENCH = "SELECT site, bench, status, last_seen_s FROM bench"
_JOB = (
    "SELECT j.place, j.job, b.site, b.bench, j.kit_job, j.state, j.label, j.base_time_s,"
    " j.is_clock_set, j.kit_version, j.spec, j.ordered, j.ordered_s, j.opened_s, j.closed_s,"
    " d.at_s FROM job j JOIN bench b ON b.place = j.bench LEFT JOIN dropped d ON d.job = j.place"
)
_PLACE = "(SELECT place FROM job WHERE job = ?)"


def benches(db: sqlite3.Connection) -> list[BenchRow]:
    """Give all benches, by site and name."""
    return [_bench_row(row) for row in db.execute(f"{_BENCH} ORDER BY site, bench").fetchall()]


def bench(db: sqlite3.Connection, site: str, name: str) -> BenchRow | None:
    """Find one bench."""
    row = db.execute(f"{_BENCH} WHERE site = ? AND bench = ?", (site, name)).fetchone()
    return None if row is None else _bench_row(row)


def _bench_row(row: tuple[Any, ...]) -> BenchRow:
    site, name, status, last_seen_s = row
    return BenchRow(
        site=site,
        bench=name,
        status=_decoded(status, Status),
        last_seen_s=last_seen_s,
    )


def _decoded(raw: bytes | None, kind: type[Kind]) -> Kind | None:
    """Read what an older server may have written; what can't be read any more counts as unknown."""
    if raw is None:
        return None
    try:
        return msgspec.json.decode(raw, type=kind)
    except msgspec.DecodeError as error:
        _log.error("the store: a %s can't be read: %s", kind.__name__, error)
        return None


def jobs(
    db: sqlite3.Connection,
    site: str | None,
    name: str | None,
    states: Sequence[JobState],
    text: str,
    before: int,
    limit: int,
) -> list[tuple[int, JobRow]]:
    """Give jobs with their places, latest first; those before a place only."""
    marks = ", ".join("?" * len(states))
    rows = db.execute(
        f"{_JOB} WHERE j.place < ? AND (?2 IS NULL OR b.site = ?2) AND (?3 IS NULL OR b.bench = ?3)"
        " AND (?4 = '' OR instr(lower(j.label || ' ' || j.job), lower(?4)))"
        + (f" AND j.state IN ({marks})" if states else "")
        + f" ORDER BY j.place DESC LIMIT {int(limit)}",
        (before, site, name, text, *states),
    )
    return [(row[0], _job_row(row)) for row in rows.fetchall()]


def job(db: sqlite3.Connection, job_id: str) -> tuple[int, JobRow] | None:
    """Find one job and its place."""
    row = db.execute(f"{_JOB} WHERE j.job = ?", (job_id,)).fetchone()
    return None if row is None else (row[0], _job_row(row))


def job_of_bench(db: sqlite3.Connection, site: str, name: str, kit_job: str) -> JobRow | None:
    """Find a job by what its bench calls it."""
    row = db.execute(
        f"{_JOB} WHERE b.site = ? AND b.bench = ? AND j.kit_job = ?", (site, name, kit_job)
    ).fetchone()
    return None if row is None else _job_row(row)


def _job_row(row: tuple[Any, ...]) -> JobRow:
    (_, job_id, site, name, kit_job, state, label, base_time_s, is_clock_set) = row[:9]
    kit_version, spec, ordered, ordered_s, opened_s, closed_s, samples_dropped_s = row[9:]
    return JobRow(
        job=job_id,
        site=site,
        bench=name,
        kit_job=kit_job,
        state=state,
        label=label,
        base_time_s=base_time_s,
        is_clock_set=None if is_clock_set is None else bool(is_clock_set),
        kit_version=kit_version,
        spec=_decoded(spec, Job),
        ordered=_decoded(ordered, JobOrder),
        ordered_s=ordered_s,
        opened_s=opened_s,
        closed_s=closed_s,
        samples_dropped_s=samples_dropped_s,
    )


def events(db: sqlite3.Connection, job_id: str) -> list[EventRow]:
    """Give a job's events in time order, ties in the order in which they were told."""
    rows = _told(db, "event", "t, event, step, sensor", job_id)
    return [
        EventRow(t=t, event=event, step=step, sensor=sensor, boot=boot, seq=seq)
        for t, event, step, sensor, boot, seq in rows
    ]


def cues(db: sqlite3.Connection, job_id: str) -> list[CueRow]:
    """Give a job's cues in time order."""
    return [
        CueRow(t=t, cue=cue, reason=reason, step=step, boot=boot, seq=seq)
        for t, cue, reason, step, boot, seq in _told(db, "cue", "t, cue, reason, step", job_id)
    ]


def notes(db: sqlite3.Connection, job_id: str) -> list[NoteRow]:
    """Give a job's notes in time order."""
    return [
        NoteRow(t=t, key=key, by=by, text=text, boot=boot, seq=seq)
        for t, key, by, text, boot, seq in _told(db, "note", "t, key, teller, text", job_id)
    ]


def faults(db: sqlite3.Connection, job_id: str) -> list[FaultRow]:
    """Give a job's faults in time order."""
    rows = _told(db, "fault", "t, code, text, received_s", job_id)
    return [_fault_row(row) for row in rows]


def faults_of_bench(db: sqlite3.Connection, site: str, name: str, limit: int) -> list[FaultRow]:
    """Give the last faults of a bench, in a job or not, latest first."""
    rows = db.execute(
        "SELECT f.t, f.code, f.text, f.received_s, o.boot, f.seq FROM fault f"
        " JOIN boot o ON o.place = f.boot JOIN bench b ON b.place = o.bench"
        " WHERE b.site = ? AND b.bench = ? ORDER BY f.boot DESC, f.seq DESC LIMIT ?",
        (site, name, limit),
    )
    return [_fault_row(row) for row in rows.fetchall()]


def _fault_row(row: tuple[Any, ...]) -> FaultRow:
    t, code, text, received_s, boot, seq = row
    return FaultRow(t=t, code=code, text=text, received_s=received_s, boot=boot, seq=seq)


def _told(db: sqlite3.Connection, table: str, columns: str, job_id: str) -> list[tuple[Any, ...]]:
    return db.execute(
        f"SELECT {columns}, o.boot, x.seq FROM {table} x JOIN boot o ON o.place = x.boot"
        f" WHERE x.job = {_PLACE} ORDER BY x.t, x.boot, x.seq",
        (job_id,),
    ).fetchall()


def result(db: sqlite3.Connection, job_id: str, final: bool | None) -> bytes | None:
    """Find a job's result: the final one, the latest before it, or (None) the best there is."""
    row = db.execute(
        f"SELECT result FROM result WHERE job = {_PLACE} AND (?2 IS NULL OR is_final = ?2)"
        " ORDER BY is_final DESC LIMIT 1",
        (job_id, final),
    ).fetchone()
    return None if row is None else row[0]


def packs(
    db: sqlite3.Connection, job_id: str, boot: int, after: int, from_s: float, to_s: float
) -> list[tuple[int, int, bytes]]:
    """Give some packs of a job and start behind a number: numbers, checksums and payloads."""
    return db.execute(
        f"SELECT seq, crc32, payload FROM message WHERE job = {_PLACE} AND boot = ? AND seq > ?"
        " AND leaf = 'samples' AND (t_last IS NULL OR t_last >= ? AND t_first <= ?)"
        f" ORDER BY seq LIMIT {CHUNK_N}",
        (job_id, boot, after, from_s, to_s),
    ).fetchall()


def messages(
    db: sqlite3.Connection, job_id: str, boot: int, after: int
) -> list[tuple[MessageRow, int]]:
    """Give some messages of a job and start behind a number, each with its checksum."""
    rows = db.execute(
        "SELECT b.site, b.bench, o.boot, m.seq, j.kit_job, m.leaf, m.t_first, m.t_last,"
        " m.received_s, m.payload, m.crc32 FROM message m JOIN boot o ON o.place = m.boot"
        " JOIN bench b ON b.place = o.bench JOIN job j ON j.place = m.job"
        f" WHERE m.job = {_PLACE} AND m.boot = ? AND m.seq > ? ORDER BY m.seq LIMIT {CHUNK_N}",
        (job_id, boot, after),
    )
    return [
        (
            MessageRow(
                site=site,
                bench=name,
                boot=boot_name,
                seq=seq,
                kit_job=kit_job,
                leaf=leaf,
                t_first=t_first,
                t_last=t_last,
                received_s=received_s,
                payload=payload,
            ),
            crc,
        )
        for (
            site, name, boot_name, seq, kit_job, leaf, t_first, t_last, received_s, payload, crc
        ) in rows.fetchall()
    ]  # fmt: skip


def starts(db: sqlite3.Connection, job_id: str) -> list[tuple[int, str]]:
    """Give the starts of the agent that a job has messages of, by the time of the first."""
    return db.execute(
        "SELECT o.place, o.boot FROM message m JOIN boot o ON o.place = m.boot"
        f" WHERE m.job = {_PLACE} GROUP BY o.place ORDER BY min(m.t_first), o.place",
        (job_id,),
    ).fetchall()


def record_entries(db: sqlite3.Connection, job_id: str) -> list[RecordEntry]:
    """Give all that was put on a job's record, oldest first."""
    rows = db.execute(
        f"SELECT key, value, teller, at_s FROM record_entry WHERE job = {_PLACE} ORDER BY place",
        (job_id,),
    )
    return [
        RecordEntry(key=key, value=msgspec.json.decode(value), by=by, at_s=at_s)
        for key, value, by, at_s in rows.fetchall()
    ]


def quarantined(db: sqlite3.Connection, after: int, limit: int) -> list[QuarantineRow]:
    """Give what is in quarantine behind a place, oldest first."""
    rows = db.execute(
        "SELECT q.place, q.received_s, q.kind, q.reason, q.topic, o.boot, q.seq, q.size,"
        " q.repeats_n, q.payload FROM quarantine q LEFT JOIN boot o ON o.place = q.boot"
        " WHERE q.place > ? ORDER BY q.place LIMIT ?",
        (after, limit),
    )
    return [
        QuarantineRow(
            place=place,
            received_s=received_s,
            kind=kind,
            reason=reason,
            topic=topic,
            boot=boot,
            seq=seq,
            size=size,
            repeats_n=repeats_n,
            payload=payload,
        )
        for place, received_s, kind, reason, topic, boot, seq, size, repeats_n, payload in (
            rows.fetchall()
        )
    ]


def counters(db: sqlite3.Connection) -> dict[str, int]:
    """Give all counters by name."""
    return dict(db.execute("SELECT name, n FROM counter ORDER BY name").fetchall())
