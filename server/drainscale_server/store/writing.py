"""One transaction of the ingest: messages, and the rows that are made from their bodies.

    with store.writing() as writing:
        if writing.add(row) == "stored":
            writing.derive(row, body)
    # now all of it is on the disk; or, if anything raised, none of it

Places (of benches, boots and jobs) are looked up once and remembered by the store.
"""

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal
from zlib import crc32

import msgspec

from drainscale.messages.records import (
    Body,
    CueShown,
    EventTold,
    FaultTold,
    JobClosed,
    JobOpened,
    Note,
    ResultFormed,
    Samples,
)
from drainscale_server.store import jobs, quarantine
from drainscale_server.store.quarantine import Misfit
from drainscale_server.store.rows import MessageRow, Standing

Added = Literal["stored", "repeat", "conflict", "late-samples"]


@dataclass(slots=True)
class Places:
    """Where benches, boots and jobs stand; none of them ever moves.

    What begins to drop a job's samples has to clear it.
    """

    benches: dict[tuple[str, str], int] = field(default_factory=dict)
    boots: dict[tuple[str, str, str], int] = field(default_factory=dict)
    jobs: dict[tuple[str, str, str], tuple[int, str]] = field(default_factory=dict)
    timed: set[int] = field(default_factory=set)  # jobs whose clock is known
    whole: set[int] = field(default_factory=set)  # jobs whose samples are not dropped

    def clear(self) -> None:
        """Forget all: a transaction that was undone may have made some of them."""
        for one in (self.benches, self.boots, self.jobs, self.timed, self.whole):
            one.clear()


class Writing:
    """What may be done within one transaction.

    Args:
        db: The writing connection, in a transaction that somebody else ends.
        places: What is remembered from earlier ones.
    """

    def __init__(self, db: sqlite3.Connection, places: Places) -> None:
        self._db = db
        self._places = places

    def standings(self, site: str, bench: str) -> dict[str, Standing]:
        """Tell what is known of each start of a bench, in the order in which they were heard of."""
        rows = self._db.execute(
            "SELECT boot, place, through FROM boot WHERE bench = ? ORDER BY place",
            (self._bench(site, bench),),
        ).fetchall()
        return {
            boot: Standing(through=through, beyond=self._beyond(place, through))
            for boot, place, through in rows
        }

    def _beyond(self, boot: int, through: int) -> tuple[int, ...]:
        rows = self._db.execute(
            "SELECT seq FROM message WHERE boot = ?1 AND seq > ?2 UNION"
            " SELECT seq FROM quarantine WHERE boot = ?1 AND seq > ?2 ORDER BY 1",
            (boot, through),
        )
        return tuple(seq for (seq,) in rows.fetchall())

    def add(self, row: MessageRow) -> Added:
        """Store a message, once; samples of a job whose samples are dropped are not stored."""
        boot = self._boot(row.site, row.bench, row.boot, row.received_s)
        job = self._job_place(row)
        if row.leaf == "samples" and self._is_dropped(job):
            return "late-samples"
        added = self._db.execute(
            "INSERT INTO message (boot, seq, job, leaf, t_first, t_last, received_s, crc32,"
            " payload) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING",
            (
                boot,
                row.seq,
                job,
                row.leaf,
                row.t_first,
                row.t_last,
                row.received_s,
                crc32(row.payload),
                row.payload,
            ),
        )
        if added.rowcount:
            return "stored"
        held = self._db.execute(
            "SELECT leaf, payload FROM message WHERE boot = ? AND seq = ?", (boot, row.seq)
        ).fetchone()
        return "repeat" if held == (row.leaf, row.payload) else "conflict"

    def _is_dropped(self, job: int | None) -> bool:
        if job is None or job in self._places.whole:
            return False
        found = self._db.execute("SELECT 1 FROM dropped WHERE job = ?", (job,)).fetchone()
        if found is None:
            self._places.whole.add(job)
        return found is not None

    def derive(self, row: MessageRow, body: Body) -> None:
        """Make the rows of a body that was just stored."""
        job = self._job_place(row)
        number = (self._boot(row.site, row.bench, row.boot, row.received_s), row.seq)
        if isinstance(body, FaultTold):
            self._insert("fault", (job, body.t, body.code, body.text, row.received_s, *number))
        elif job is not None:  # outside of one nothing else says anything; the message is kept
            if isinstance(body, Samples | JobOpened | JobClosed):
                self._job_went_on(job, body, row.received_s)
            else:
                self._told(job, body, number)

    def _job_went_on(
        self, job: int, body: Samples | JobOpened | JobClosed, received_s: float
    ) -> None:
        match body:
            case JobOpened():
                jobs.opened(self._db, job, body, received_s)
            case JobClosed():
                jobs.closed(self._db, job, body, received_s)
            case Samples() if job not in self._places.timed:
                jobs.heard_of(self._db, job, body.base_time_s, body.is_clock_set)
                self._places.timed.add(job)

    def _told(
        self,
        job: int,
        body: EventTold | CueShown | Note | ResultFormed,
        number: tuple[int, int],
    ) -> None:
        match body:
            case EventTold(t=t, event=event, step=step, sensor=sensor):
                self._insert("event", (job, t, event, step, sensor, *number))
            case CueShown(t=t, cue=cue, reason=reason, step=step):
                self._insert("cue", (job, t, cue, reason, step, *number))
            case Note(t=t, key=key, by=by, text=text):
                self._insert("note", (job, t, key, by, text, *number))
            case ResultFormed():
                self._result(job, body, number)

    def quarantine(self, misfit: Misfit) -> bool:
        """Keep what could not be read; False if the same was there already."""
        number = misfit.number
        place = None if number is None else self._boot(*number[:3], misfit.received_s)
        return quarantine.put(self._db, misfit, place)

    def number_quarantined(
        self, site: str, bench: str, boot: str, seq: int, digest: bytes, at_s: float
    ) -> None:
        """Note which number something in quarantine has, found out later."""
        self._db.execute(
            "UPDATE quarantine SET boot = ?, seq = ? WHERE digest = ? AND seq IS NULL",
            (self._boot(site, bench, boot, at_s), seq, digest),
        )

    def release(self, place: int) -> None:
        """Let something go from the quarantine."""
        self._db.execute("DELETE FROM quarantine WHERE place = ?", (place,))

    def tidy_quarantine(self) -> int:
        """Drop the oldest of what nobody was promised to be kept; tell how many went."""
        return quarantine.drop_oldest(self._db)

    def advance(
        self, site: str, bench: str, boot: str, through: int, lost_n: int, at_s: float
    ) -> None:
        """Note up to which number all is accounted for, and how many more are lost."""
        self._db.execute(
            "UPDATE boot SET through = max(through, ?), lost_n = lost_n + ? WHERE place = ?",
            (through, lost_n, self._boot(site, bench, boot, at_s)),
        )

    def seen(self, site: str, bench: str, at_s: float) -> None:
        """Note when a bench was last heard of."""
        self._db.execute(
            "UPDATE bench SET last_seen_s = ? WHERE place = ?", (at_s, self._bench(site, bench))
        )

    def status(self, site: str, bench: str, payload: bytes) -> None:
        """Put a bench's new status in place of its last."""
        self._db.execute(
            "UPDATE bench SET status = ? WHERE place = ?", (payload, self._bench(site, bench))
        )

    def count(self, more: Mapping[str, int]) -> None:
        """Add to the counters."""
        self._db.executemany(
            "INSERT INTO counter (name, n) VALUES (?, ?)"
            " ON CONFLICT (name) DO UPDATE SET n = n + excluded.n",
            list(more.items()),
        )

    def _insert(self, table: str, values: tuple[object, ...]) -> None:
        marks = ", ".join("?" * len(values))
        self._db.execute(f"INSERT INTO {table} VALUES ({marks}) ON CONFLICT DO NOTHING", values)

    def _result(self, job: int, body: ResultFormed, number: tuple[int, int]) -> None:
        self._db.execute(
            "INSERT INTO result VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT (job, is_final) DO UPDATE"
            " SET t = excluded.t, result = excluded.result, boot = excluded.boot,"
            " seq = excluded.seq WHERE excluded.t >= t",
            (job, body.is_final, body.t, msgspec.json.encode(body.result), *number),
        )

    def _bench(self, site: str, bench: str) -> int:
        found = self._places.benches.get((site, bench))
        if found is None:
            found = bench_place(self._db, site, bench)
            self._places.benches[site, bench] = found
        return found

    def _boot(self, site: str, bench: str, boot: str, at_s: float) -> int:
        found = self._places.boots.get((site, bench, boot))
        if found is None:
            there = (self._bench(site, bench), boot)
            self._db.execute(
                "INSERT OR IGNORE INTO boot (bench, boot, first_seen_s) VALUES (?, ?, ?)",
                (*there, at_s),
            )
            row = self._db.execute("SELECT place FROM boot WHERE bench = ? AND boot = ?", there)
            found = int(row.fetchone()[0])
            self._places.boots[site, bench, boot] = found
        return found

    def _job_place(self, row: MessageRow) -> int | None:
        found = self._job(row)
        return None if found is None else found[0]

    def job_id(self, row: MessageRow) -> str | None:
        """Tell what the server calls the job of a message."""
        found = self._job(row)
        return None if found is None else found[1]

    def _job(self, row: MessageRow) -> tuple[int, str] | None:
        if row.kit_job is None:
            return None
        found = self._places.jobs.get((row.site, row.bench, row.kit_job))
        if found is None:
            bench = self._bench(row.site, row.bench)
            name = f"{row.site}.{row.bench}"
            found = jobs.find_or_add(self._db, bench, row.kit_job, name)
            self._places.jobs[row.site, row.bench, row.kit_job] = found
        return found


def bench_place(db: sqlite3.Connection, site: str, bench: str) -> int:
    """Find a bench, or add it."""
    db.execute("INSERT OR IGNORE INTO bench (site, bench) VALUES (?, ?)", (site, bench))
    row = db.execute("SELECT place FROM bench WHERE site = ? AND bench = ?", (site, bench))
    return int(row.fetchone()[0])
