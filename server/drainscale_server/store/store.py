"""The store: everything that the shop keeps, in one SQLite file.

    with Store(path) as store:
        with store.writing() as writing: ...        # the ingest
        for payload in store.packs("j-104"): ...    # everybody else

Any method may be called from any thread. Readers each have a connection and see one state of the
store; there is one connection that writes, and each change is one transaction that is on the disk
when the call returns.
"""

import logging
import re
import sqlite3
import threading
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from math import inf
from pathlib import Path
from types import TracebackType
from typing import Any, Self
from zlib import crc32

import msgspec

from drainscale.errors import StoreError
from drainscale.messages.telegrams import JobOrder
from drainscale_server.store import dropping, jobs, queries
from drainscale_server.store.file import connect, open_file
from drainscale_server.store.lending import Readers
from drainscale_server.store.rows import (
    BenchRow,
    CueRow,
    EventRow,
    FaultRow,
    JobRow,
    JobState,
    MessageRow,
    NoteRow,
    Page,
    QuarantineRow,
    RecordEntry,
)
from drainscale_server.store.writing import Places, Writing, bench_place

PAGE_N = 50
# a full disk, a lock, damage; their subclasses say that the statement or its values are wrong
_REFUSALS = (sqlite3.OperationalError, sqlite3.DatabaseError)
_PLACE = re.compile(r"[0-9]{1,18}")
_FIRST_PAGE = 2**62  # a place that no job reaches
_log = logging.getLogger(__name__)


class Store:
    """One shop's store.

    Args:
        path: The SQLite file; made if it is not there, set aside and begun anew if damaged.

    Attributes:
        file_faults: What was found wrong with the file, a line each; for whoever looks after it.

    Raises:
        StoreError: As ``open_file``. So does every method where SQLite refuses: a full disk,
            mostly. Then nothing of the call was stored.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._file = open_file(path)
        self._readers = Readers(path)
        self._lock = threading.Lock()
        self._is_closed = False
        self._places = Places()
        self.file_faults: tuple[str, ...] = ()
        if self._file.aside is not None:
            fault = f"the store was damaged and is set aside as {self._file.aside.name}"
            self.file_faults = (fault,)
            _log.error("%s: %s", path, fault)

    @property
    def path(self) -> Path:
        """The file."""
        return self._path

    def close(self) -> None:
        """Close the file; harmless if closed already."""
        self._readers.close()
        with self._lock:
            self._is_closed = True
            self._file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    # --- writing

    @contextmanager
    def writing(self) -> Iterator[Writing]:
        """Hold one transaction: on the disk when the block ends, undone if it raises."""
        with self._lock:
            if self._is_closed:
                raise StoreError(f"{self._path}: the store is closed")
            db = self._file.writer
            try:
                db.execute("BEGIN IMMEDIATE")
                yield Writing(db, self._places)
                db.execute("COMMIT")
            except BaseException as error:
                self._undo(db)
                if type(error) in _REFUSALS:
                    raise StoreError(f"{self._path}: {error}") from error
                raise

    def _undo(self, db: sqlite3.Connection) -> None:
        self._places.clear()
        try:
            if db.in_transaction:
                db.execute("ROLLBACK")
        except sqlite3.Error:
            _log.exception("%s: can't be rolled back", self._path)

    @contextmanager
    def _changing(self) -> Iterator[sqlite3.Connection]:
        with self.writing():
            yield self._file.writer

    def plan_job(self, site: str, bench: str, order: JobOrder, at_s: float) -> JobRow:
        """Note a job that is ordered.

        Raises:
            StoreError: Its id is taken.
        """
        with self._changing() as db:
            if not jobs.plan(db, bench_place(db, site, bench), order, at_s):
                raise StoreError(f"job {order.job}: there is one of this id")
        planned = self.job(order.job)
        assert planned is not None
        return planned

    def take_back_job(self, job: str) -> bool:
        """Take a planned job back; False if it is no longer only planned, or not there."""
        with self._changing() as db:
            return jobs.take_back(db, job)

    def add_record_entry(self, job: str, key: str, value: Any, by: str, at_s: float) -> None:
        """Put something on a job's record; what stood there under the key stays in the history.

        Raises:
            StoreError: No such job.
        """
        self.add_record_entries(job, {key: value}, by, at_s)

    def add_record_entries(self, job: str, values: dict[str, Any], by: str, at_s: float) -> None:
        """Put several things on a job's record, all or none.

        Raises:
            StoreError: No such job.
        """
        with self._changing() as db:
            for key, value in values.items():
                added = db.execute(
                    "INSERT INTO record_entry (job, key, value, teller, at_s)"
                    " SELECT place, ?, ?, ?, ? FROM job WHERE job = ?",
                    (key, msgspec.json.encode(value), by, at_s, job),
                )
                if not added.rowcount:
                    raise StoreError(f"job {job}: there is none of this id")

    # --- dropping samples

    def finished_jobs(self, before_s: float) -> list[str]:
        """Name the jobs that were over before an instant and have all of their samples."""
        with self._readers.lend() as db:
            return dropping.finished_jobs(db, before_s)

    def begin_dropping(self, job: str, kept: bytes, messages_n: int, at_s: float) -> bool:
        """Note that a job's samples are dropped; from now on nobody is given them.

        Args:
            job: Its id.
            kept: What the record needs of them.
            messages_n: How many messages the job had when that was made.
            at_s: Now.

        Returns:
            False if the job has other messages now, or is not over; then nothing was noted.
        """
        with self._changing() as db:
            self._places.clear()
            return dropping.begin(db, job, kept, messages_n, at_s)

    def unfinished_drops(self) -> list[str]:
        """Name the jobs of which ``drop_some`` has something to drop yet."""
        with self._readers.lend() as db:
            return dropping.unfinished_jobs(db)

    def drop_some(self, job: str, most_n: int) -> int:
        """Drop some more packs of a job that is noted as dropped.

        Returns:
            How many went; fewer than ``most_n``: all are gone now.
        """
        with self._changing() as db:
            return dropping.go_on(db, job, most_n)

    def give_back(self, most_n: int) -> int:
        """Give free pages of the file back to the disk.

        Returns:
            How many are left.
        """
        with self._changing() as db:
            return dropping.give_back(db, most_n)

    def work_log_in(self) -> None:
        """Work the log into the file, which may shrink by that; whoever writes need not wait."""
        try:
            with closing(connect(self._path, is_reader=False)) as db:
                db.execute("PRAGMA wal_checkpoint(PASSIVE)")
        except sqlite3.Error as error:
            raise StoreError(f"{self._path}: {error}") from error

    def kept_of_samples(self, job: str) -> bytes | None:
        """Give what was kept of a job's samples when they were dropped; None: they are there."""
        with self._readers.lend() as db:
            return dropping.kept_of(db, job)

    # --- reading

    def check(self) -> None:
        """Tell whether the store answers.

        Raises:
            StoreError: It does not.
        """
        with self._readers.lend() as db:
            db.execute("SELECT count(*) FROM bench").fetchone()

    def benches(self) -> list[BenchRow]:
        """Give all benches, by site and name."""
        with self._readers.lend() as db:
            return queries.benches(db)

    def bench(self, site: str, bench: str) -> BenchRow | None:
        """Find one bench."""
        with self._readers.lend() as db:
            return queries.bench(db, site, bench)

    def jobs(
        self,
        site: str | None = None,
        bench: str | None = None,
        states: Sequence[JobState] = (),
        text: str = "",
        after: str | None = None,
        limit: int = PAGE_N,
    ) -> Page[JobRow]:
        """Give jobs, the one heard of last first.

        Args:
            site: Of this site only.
            bench: Of benches of this name only.
            states: In one of these states only; none: in any.
            text: With this in label or id, in small or capital letters.
            after: Behind this job: ``Page.after`` of the page before. One that is not there
                gives the first page.
            limit: At most so many.
        """
        with self._readers.lend() as db:
            last = None if after is None else queries.job(db, after)
            before = _FIRST_PAGE if last is None else last[0]
            found = queries.jobs(db, site, bench, states, text, before, limit + 1)
        rows = [row for _, row in found[:limit]]
        return Page(rows, rows[-1].job if len(found) > limit else None)

    def job(self, job: str) -> JobRow | None:
        """Find one job."""
        with self._readers.lend() as db:
            found = queries.job(db, job)
        return None if found is None else found[1]

    def job_of_bench(self, site: str, bench: str, kit_job: str) -> JobRow | None:
        """Find a job by what its bench calls it."""
        with self._readers.lend() as db:
            return queries.job_of_bench(db, site, bench, kit_job)

    def events(self, job: str) -> list[EventRow]:
        """Give a job's events in time order."""
        with self._readers.lend() as db:
            return queries.events(db, job)

    def cues(self, job: str) -> list[CueRow]:
        """Give a job's cues in time order."""
        with self._readers.lend() as db:
            return queries.cues(db, job)

    def notes(self, job: str) -> list[NoteRow]:
        """Give a job's notes in time order."""
        with self._readers.lend() as db:
            return queries.notes(db, job)

    def faults(self, job: str) -> list[FaultRow]:
        """Give the faults that the kit told of during a job, in time order."""
        with self._readers.lend() as db:
            return queries.faults(db, job)

    def faults_of_bench(self, site: str, bench: str, limit: int = PAGE_N) -> list[FaultRow]:
        """Give the last faults of a bench, in a job or not, latest first."""
        with self._readers.lend() as db:
            return queries.faults_of_bench(db, site, bench, limit)

    def result(self, job: str, final: bool | None = None) -> dict[str, Any] | None:
        """Give a job's result in the form of a replay's.

        Args:
            job: Its id.
            final: True: the final one; False: the latest before it; None: the best there is.
        """
        with self._readers.lend() as db:
            found = queries.result(db, job, final)
        return None if found is None else msgspec.json.decode(found, type=dict[str, Any])

    def packs(self, job: str, from_s: float = -inf, to_s: float = inf) -> Iterator[bytes]:
        """Give the payloads of a job's sample messages, in the order of their samples.

        They are fetched some at a time, so a slow reader holds nothing up.

        Args:
            job: Its id.
            from_s: Only those that have samples at this time of the job or later.
            to_s: Or earlier.

        Raises:
            StoreError: One of them went bad on the disk, or they are dropped, perhaps meanwhile.
        """
        for place, boot in self._starts(job):
            after = 0
            while True:
                with self._readers.lend() as db:
                    if dropping.kept_of(db, job) is not None:
                        raise StoreError(f"job {job}: its samples were dropped")
                    rows = queries.packs(db, job, place, after, from_s, to_s)
                for after, crc, payload in rows:
                    self._check_sound(job, boot, after, payload, crc)
                    yield payload
                if not rows:
                    break

    def messages(self, job: str) -> Iterator[MessageRow]:
        """Give all numbered messages of a job as they came: starts in time order, then numbers.

        Raises:
            StoreError: One of them went bad on the disk.
        """
        for place, boot in self._starts(job):
            after = 0
            while True:
                with self._readers.lend() as db:
                    rows = queries.messages(db, job, place, after)
                for row, crc in rows:
                    after = row.seq
                    self._check_sound(job, boot, after, row.payload, crc)
                    yield row
                if not rows:
                    break

    def _starts(self, job: str) -> list[tuple[int, str]]:
        with self._readers.lend() as db:
            return queries.starts(db, job)

    def _check_sound(self, job: str, boot: str, seq: int, payload: bytes, crc: int) -> None:
        if crc32(payload) != crc:
            raise StoreError(f"job {job}: message {seq} of boot {boot} went bad on the disk")

    def record_entries(self, job: str) -> dict[str, RecordEntry]:
        """Give what stands on a job's record now, by key."""
        return {entry.key: entry for entry in self.history(job)}

    def history(self, job: str) -> list[RecordEntry]:
        """Give all that was ever put on a job's record, oldest first."""
        with self._readers.lend() as db:
            return queries.record_entries(db, job)

    def quarantined(self, after: str | None = None, limit: int = PAGE_N) -> Page[QuarantineRow]:
        """Give what could not be read, oldest first; ``after`` as in ``jobs``."""
        place = int(after) if after is not None and _PLACE.fullmatch(after) else 0
        with self._readers.lend() as db:
            rows = queries.quarantined(db, place, limit + 1)
        is_more, rows = len(rows) > limit, rows[:limit]
        return Page(rows, str(rows[-1].place) if is_more else None)

    def counters(self) -> dict[str, int]:
        """Give how often things happened since the store was begun, by name."""
        with self._readers.lend() as db:
            return queries.counters(db)
