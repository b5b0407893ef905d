"""The messages of a bench on disk, until the server has them and their job is closed.

    spool = Spool(path, BenchId("north", "bay-3"))
    if (found := spool.open_job()) is not None:     # the agent was killed in mid-job
        for sample in spool.samples(found.job): ...

Every method may be called from any thread; each is one transaction. ``SpoolWriter`` keeps the
disk away from the thread that measures.
"""

import secrets
import sqlite3
import threading
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from zlib import crc32

import msgspec

from drainscale.errors import MessageError, SpoolError
from drainscale.messages.codec import decode, encode
from drainscale.messages.records import (
    Body,
    Envelope,
    FaultTold,
    JobClosed,
    JobOpened,
    Samples,
    leaf_of,
)
from drainscale.messages.topics import BenchId
from drainscale.quantities.samples import Sample
from drainscale.uplink.batches import Entry, Gap, RunningJob
from drainscale.uplink.session import Standing
from drainscale.uplink.spool_file import open_or_renew, set_aside
from drainscale.uplink.spool_queries import (
    delete_delivered,
    delete_empty,
    give_up_jobs,
    note_begun,
    place_of,
    stored_gaps,
    told_begun,
)

KEPT_JOBS_N = 50  # on a bench without a server: some 400 MB at 80 samples a second
FORGOTTEN_AT_ONCE_N = 500  # messages in one transaction: some 20 ms, so nobody waits long


@dataclass(frozen=True, slots=True)
class StoredMessage:
    """One message as it goes out."""

    boot: str
    seq: int
    leaf: str
    payload: bytes


class Spool:
    """One bench's spool.

    Args:
        path: The SQLite file; made if it is not there, set aside and begun anew if damaged.
        bench_id: Whose messages these are.
        boot: This start of the agent; new and random unless a test gives one.

    Raises:
        SpoolError: As ``open_or_renew``.
    """

    def __init__(self, path: Path, bench_id: BenchId, boot: str | None = None) -> None:
        self._path = path
        self._bench_id = bench_id
        self._lock = threading.RLock()
        self._standings: dict[str, Standing] = {}
        self._shown: tuple[Standing, ...] = ()
        self._places: dict[str, int] = {}
        self._faults: list[str] = []
        self._bad_gaps: list[Gap] = []
        self._last_t = 0.0  # of the samples stored since the start
        self._boot = ""
        self._begin(boot)

    @property
    def boot(self) -> str:
        """This start of the agent; changes only if the file had to be begun anew."""
        return self._boot

    @property
    def bench_id(self) -> BenchId:
        """Whose spool it is."""
        return self._bench_id

    @property
    def faults(self) -> tuple[str, ...]:
        """What went wrong with the file since it was opened, a line each."""
        return tuple(self._faults)

    def standings(self) -> tuple[Standing, ...]:
        """How far each boot is, oldest first; never waits for the disk."""
        return self._shown

    def append(self, entries: Sequence[Entry], lost: Iterable[Gap] = ()) -> int:
        """Number and store messages; when this returns, they are on the disk.

        Args:
            entries: In order. One that opens a job, or closes it, does so here as well.
            lost: Stretches of the open job whose samples will never come.

        Returns:
            The last number given out.

        Raises:
            sqlite3.Error: Nothing was stored, no number was used (a full disk, mostly).
            ValueError: An entry that can't be sent, or belongs to no job here: a bug.
        """
        with self._transaction() as db:
            seq = self._standings[self._boot].last
            for entry in entries:
                seq += 1
                self._store(db, entry, seq)
            for gap in lost:
                db.execute(
                    "INSERT INTO gaps SELECT place, ?, ? FROM jobs WHERE NOT is_closed",
                    (gap.from_s, gap.to_s),
                )
            place = self._places[self._boot]
            db.execute("UPDATE boots SET last = ? WHERE place = ?", (seq, place))
            db.execute("COMMIT")
            through = self._standings[self._boot].through
            self._stands(Standing(self._boot, through, seq))
            packs = [one.body for one in entries if isinstance(one.body, Samples)]
            if packs:
                self._last_t = packs[-1].samples[-1].t
            return seq

    def open_job(self) -> RunningJob | None:
        """Give the job that was begun and never closed, if there is one.

        Raises:
            SpoolError: Its first record can't be read.
        """
        with self._lock:
            row = self._db.execute("SELECT job, opened FROM jobs WHERE NOT is_closed").fetchone()
        if row is None:
            return None
        try:
            return RunningJob(row[0], msgspec.json.decode(row[1], type=JobOpened))
        except msgspec.DecodeError as error:
            raise SpoolError(f"{self._path}: job {row[0]}: {error}") from error

    def note_begun(self, job: str) -> None:
        """Note for good that a job was begun here: its order is not to be done again.

        Raises:
            sqlite3.Error: It could not be noted.
        """
        with self._transaction() as db:
            note_begun(db, job)
            db.execute("COMMIT")

    def begun(self) -> frozenset[str]:
        """Name the last jobs that were noted as begun, forgotten ones among them."""
        with self._lock:
            return told_begun(self._db)

    def history(self, job: str) -> Iterator[Body]:
        """Read back all messages of a job in order; what can't be read is told as a fault."""
        with self._lock:
            rows = self._db.execute(
                "SELECT seq, leaf, payload, crc32, first_t, last_t FROM messages WHERE job ="
                " (SELECT place FROM jobs WHERE job = ?) ORDER BY boot, seq",
                (job,),
            ).fetchall()
        self._bad_gaps.clear()
        for seq, leaf, payload, crc, first_t, last_t in rows:
            body = self._read(leaf, payload, crc)
            if body is not None:
                yield body
            else:
                self._faults.append(f"message {seq} of job {job} is unreadable in the spool")
                if first_t is not None:
                    self._bad_gaps.append(Gap(first_t, last_t))

    def samples(self, job: str) -> Iterator[Sample]:
        """Read back the samples of a job in the order in which the core was fed them."""
        for body in self.history(job):
            if isinstance(body, Samples):
                yield from body.samples

    def gaps(self, job: str) -> list[Gap]:
        """Tell the stretches that nobody saw, or that can't be read back any more.

        They lie between two boots, or are what the disk refused, or what the last ``history``
        found unreadable.
        """
        with self._lock:
            gaps = [*stored_gaps(self._db, job), *self._bad_gaps]
        return sorted(gaps, key=lambda gap: gap.from_s)

    def messages(self, boot: str, first: int, last: int) -> list[StoredMessage]:
        """Read messages ``first`` to ``last`` of a boot, as far as they are there.

        In place of one that can't be read any more stands a fault of the same number, so that
        the server does not wait for it for ever.
        """
        with self._lock:
            rows = self._db.execute(
                "SELECT seq, leaf, payload, crc32 FROM messages WHERE boot = ? AND"
                " seq BETWEEN ? AND ? ORDER BY seq",
                (self._places.get(boot), first, last),
            ).fetchall()
        return [
            StoredMessage(boot, seq, leaf, payload)
            if crc32(payload) == crc
            else self._unreadable(boot, seq, leaf)
            for seq, leaf, payload, crc in rows
        ]

    def acknowledge(self, boot: str, through: int) -> None:
        """Note that the server has all of a boot up to a number; it never goes back.

        Raises:
            ValueError: A number that was never given out.
        """
        with self._transaction() as db:
            standing = self._standings.get(boot)
            if standing is None or through <= standing.through:
                db.execute("ROLLBACK")
                return
            if through > standing.last:
                raise ValueError(f"boot {boot}: {through} of {standing.last} acknowledged")
            db.execute("UPDATE boots SET through = ? WHERE boot = ?", (through, boot))
            db.execute("COMMIT")
            self._stands(Standing(boot, through, standing.last))

    def forget(self, limit_n: int = FORGOTTEN_AT_ONCE_N) -> int:
        """Drop messages that are acknowledged and whose job is closed; then what holds none.

        Returns:
            How many messages went; if it is ``limit_n``, there may be more.
        """
        with self._transaction() as db:
            gone = delete_delivered(db, limit_n)
            if gone < limit_n:
                self._drop_empty(db)
            db.execute("COMMIT")
            return gone

    def trim(self, keep_n: int = KEPT_JOBS_N) -> int:
        """Give up the oldest closed jobs, sent or not: for a bench that has no server.

        What is given up counts as acknowledged from now on, so that a server that comes later
        does not wait for it.

        Args:
            keep_n: So many closed jobs stay.

        Returns:
            How many messages went.
        """
        with self._transaction() as db:
            gone, given_up = give_up_jobs(db, keep_n)
            self._drop_empty(db)
            db.execute("COMMIT")
            for boot, seq in given_up:
                standing = self._standings.get(boot)
                if standing is not None and seq > standing.through:
                    self._stands(Standing(boot, seq, standing.last))
            return gone

    def renew(self, running: RunningJob | None) -> None:
        """Set the file aside, damaged while it was open, and go on with a new one.

        The boot is another one from now on, for the old numbers are lost; a job that runs is
        opened anew.

        Raises:
            SpoolError: As ``open_or_renew``.
        """
        with self._lock:
            self._db.close()
            aside = set_aside(self._path)
            self._begin(None)
            self._faults.append(f"the spool was damaged and is set aside as {aside.name}")
        if running is not None:
            self.append([Entry(running.job, running.opened)], [Gap(0.0, self._last_t)])

    def close(self) -> None:
        """Close the file; harmless if closed already."""
        with self._lock:
            self._db.close()

    def _begin(self, boot: str | None) -> None:
        self._db, aside = open_or_renew(self._path)
        if aside is not None:
            self._faults.append(f"the spool was damaged and is set aside as {aside.name}")
        self._boot = boot or secrets.token_hex(8)
        try:
            with self._transaction() as db:
                db.execute("INSERT INTO boots (boot) VALUES (?)", (self._boot,))
                db.execute("COMMIT")
        except sqlite3.Error as error:
            self._db.close()
            raise SpoolError(f"{self._path}: {error}") from error
        rows = self._db.execute("SELECT place, boot, through, last FROM boots ORDER BY place")
        found = rows.fetchall()
        self._places = {boot: place for place, boot, _, _ in found}
        self._standings = {row[1]: Standing(*row[1:]) for row in found}
        self._shown = tuple(self._standings.values())

    def _store(self, db: sqlite3.Connection, entry: Entry, seq: int) -> None:
        body = entry.body
        if isinstance(body, JobOpened):
            self._open(db, entry.job, body)
        payload = encode(self._envelope(self._boot, seq, entry.job, body))
        samples = body.samples if isinstance(body, Samples) else ()
        first_t, last_t = (samples[0].t, samples[-1].t) if samples else (None, None)
        job, place = place_of(db, entry.job), self._places[self._boot]
        db.execute(
            "INSERT INTO messages (boot, seq, job, leaf, payload, crc32, first_t, last_t)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (place, seq, job, leaf_of(body), payload, crc32(payload), first_t, last_t),
        )
        if isinstance(body, JobClosed):
            db.execute("UPDATE jobs SET is_closed = 1 WHERE place = ?", (job,))

    def _read(self, leaf: str, payload: bytes, crc: int) -> Body | None:
        if crc32(payload) != crc:
            return None
        try:
            message = decode(self._bench_id.topic(leaf), payload)
        except MessageError:
            return None
        return message.body if isinstance(message, Envelope) else None

    def _unreadable(self, boot: str, seq: int, leaf: str) -> StoredMessage:
        fault = FaultTold(code="message-unreadable", text=f"{leaf} {seq} went bad in the spool")
        payload = encode(self._envelope(boot, seq, None, fault))
        return StoredMessage(boot, seq, leaf_of(fault), payload)

    def _envelope(self, boot: str, seq: int, job: str | None, body: Body) -> Envelope:
        site, bench = self._bench_id.site, self._bench_id.bench
        return Envelope(site=site, bench=bench, boot=boot, seq=seq, job=job, body=body)

    @staticmethod
    def _open(db: sqlite3.Connection, job: str | None, opened: JobOpened) -> None:
        other = db.execute("SELECT job FROM jobs WHERE NOT is_closed").fetchone()
        if other is not None or job is None:
            raise ValueError(f"job {job} can't be opened: {other and other[0]} is open")
        row = (job, msgspec.json.encode(opened))
        try:
            db.execute("INSERT INTO jobs (job, opened) VALUES (?, ?)", row)
        except sqlite3.IntegrityError as error:
            raise ValueError(f"job {job} is in the spool already") from error

    def _drop_empty(self, db: sqlite3.Connection) -> None:
        for boot in delete_empty(db, self._boot):
            self._standings.pop(boot, None)
            self._places.pop(boot, None)
        self._shown = tuple(self._standings.values())

    def _stands(self, standing: Standing) -> None:
        self._standings[standing.boot] = standing
        self._shown = tuple(self._standings.values())

    @contextmanager
    def _transaction(self) -> Iterator[sqlite3.Connection]:
        """Hold the lock and a transaction; the block commits, whatever it leaves is undone."""
        with self._lock:
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield self._db
            finally:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
