"""A batch of messages into the store, in one transaction; then what is to be said of it.

Nothing that a message holds can stop the others: what can't be read is put into quarantine, and
so is what can't be stored. Only a store that refuses altogether (a full disk) stops the batch.
"""

import logging
from collections import Counter
from collections.abc import Sequence
from dataclasses import astuple, dataclass, field

from drainscale.errors import StoreError
from drainscale.messages.codec import encode
from drainscale.messages.records import Samples
from drainscale.messages.telegrams import Ack, Status
from drainscale.messages.topics import BenchId
from drainscale_server.ingest.listeners import Stored
from drainscale_server.ingest.reading import (
    Arrived,
    Misfit,
    Number,
    Numbered,
    Read,
    Told,
    is_usable,
    read,
)
from drainscale_server.ingest.session import Places, Tally, lost_by
from drainscale_server.store import quarantine
from drainscale_server.store.rows import MessageRow
from drainscale_server.store.store import Store
from drainscale_server.store.writing import Writing

LISTED_N = 1000  # starts of a bench that one status may speak of
SEEN_S = 10.0  # figures of the moment alone are worth a commit so seldom
_log = logging.getLogger(__name__)


@dataclass(slots=True)
class Kept:
    """What came of a batch.

    Attributes:
        stored: What is new in the store.
        told: Messages without a number, and whether the broker had kept them.
        acks: What the benches are to be told, by start.
        counts: How often what happened.
    """

    stored: list[Stored] = field(default_factory=list)
    told: list[tuple[Told, bool]] = field(default_factory=list)
    acks: dict[tuple[BenchId, str], int] = field(default_factory=dict)
    counts: Counter[str] = field(default_factory=Counter)

    def telegrams(self) -> list[tuple[str, bytes]]:
        """Give the acknowledgements as topic and payload."""
        return [
            (bench_id.topic("ack"), encode(Ack(boot=boot, through=through)))
            for (bench_id, boot), through in self.acks.items()
            if through > 0
        ]

    def add(self, more: "Kept") -> None:
        """Add what came of another part of the batch."""
        self.stored += more.stored
        self.told += more.told
        self.acks |= more.acks
        self.counts += more.counts


class Keeper:
    """Puts batches into the store.

    Args:
        store: Where to.
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self._tallies: dict[BenchId, dict[str, Tally]] = {}
        self._places: dict[BenchId, Places] = {}
        self._noted_s: dict[BenchId, float] = {}  # when a bench was seen, as the store has it

    def keep(self, batch: Sequence[Arrived]) -> Kept:
        """Store a batch; when this returns, it is on the disk.

        Raises:
            StoreError: Nothing of it is stored; it may be given again.
        """
        understood = [(one, what) for one in batch if (what := read(one)) is not None]
        if not understood:
            return Kept()
        try:
            return self._keep_all(understood)
        except StoreError:
            raise
        except Exception:  # noqa: BLE001 - one of them breaks something; which one?
            _log.exception("a batch of %d messages is stored one by one", len(batch))
        kept = Kept()
        for arrived, what in understood:
            kept.add(self._keep_alone(arrived, what))
        return kept

    def _keep_alone(self, arrived: Arrived, what: Read) -> Kept:
        try:
            return self._keep_all([(arrived, what)])
        except StoreError:
            raise
        except Exception as error:  # noqa: BLE001 - it is kept aside with the reason
            number = what.number if isinstance(what, Numbered | Misfit) else None
            unstorable = Misfit("unstorable", repr(error), number=number)
        try:
            return self._keep_all([(arrived, unstorable)])
        except StoreError:
            raise
        except Exception:  # noqa: BLE001 - not even that; the bench will send it again
            _log.exception("%s: given up", arrived.topic)
            return Kept(counts=Counter({"given-up": 1}))

    def _keep_all(self, batch: Sequence[tuple[Arrived, Read]]) -> Kept:
        try:
            with self._store.writing() as writing:
                work = _Batch(writing, self._tallies, self._places, self._noted_s)
                for arrived, what in batch:
                    work.take(arrived, what)
                work.finish()
        except BaseException:
            self._tallies.clear()  # they may know of what was undone
            self._noted_s.clear()
            raise
        return work.kept


class _Batch:
    """One batch within its transaction."""

    def __init__(
        self,
        writing: Writing,
        tallies: dict[BenchId, dict[str, Tally]],
        places: dict[BenchId, Places],
        noted_s: dict[BenchId, float],
    ) -> None:
        self._writing = writing
        self._tallies = tallies
        self._places = places
        self._noted_s = noted_s
        self._moved: dict[tuple[BenchId, str], int] = {}  # starts and their losses
        self._seen: dict[BenchId, float] = {}
        self._is_untidy = False
        self._at_s = 0.0
        self.kept = Kept()

    def take(self, arrived: Arrived, what: Read) -> None:
        """Store one message, or put it into quarantine."""
        self._at_s = arrived.received_s
        match what:
            case Numbered():
                self._store(arrived, what)
            case Misfit():
                self._set_aside(arrived, what)
            case Told(bench_id=bench_id, message=message):
                self.kept.told.append((what, arrived.is_retained))
                if isinstance(message, Status):
                    self._status(arrived, bench_id, message)
                elif not arrived.is_retained:
                    self._seen[bench_id] = arrived.received_s

    def finish(self) -> None:
        """Note how far each start is now, and count."""
        for (bench_id, boot), lost_n in self._moved.items():
            through = self._tally(bench_id, boot).through
            self._writing.advance(*_names(bench_id), boot, through, lost_n, self._at_s)
            self.kept.acks[bench_id, boot] = through
            self.kept.counts["lost"] += lost_n
        for bench_id, at_s in self._seen.items():
            self._note_seen(bench_id, at_s)
        if self._is_untidy:
            self.kept.counts["quarantine-dropped"] += self._writing.tidy_quarantine()
        self.kept.counts = +self.kept.counts  # without the zeros
        self._writing.count(self.kept.counts)

    def _note_seen(self, bench_id: BenchId, at_s: float) -> None:
        is_alone = not self._moved and not self.kept.counts
        # abs: the clock may have been set back
        if is_alone and abs(at_s - self._noted_s.get(bench_id, -SEEN_S)) < SEEN_S:
            return  # a commit waits for the disk, and wears a card
        self._noted_s[bench_id] = at_s
        self._writing.seen(*_names(bench_id), at_s)

    def _store(self, arrived: Arrived, numbered: Numbered) -> None:
        number, envelope = numbered.number, numbered.envelope
        row = row_of(arrived, numbered)
        added = self._writing.add(row)
        self.kept.counts[added] += 1
        if added == "stored":
            self._writing.derive(row, envelope.body)
            self.kept.stored.append(
                Stored(
                    site=number.site,
                    bench=number.bench,
                    boot=number.boot,
                    seq=number.seq,
                    job=self._writing.job_id(row),
                    kit_job=envelope.job,
                    body=envelope.body,
                    received_s=arrived.received_s,
                )
            )
        elif added == "conflict":
            reason = f"number {number.seq} of boot {number.boot} is stored with other content"
            self._quarantine(arrived, Misfit("conflict", reason, number=number))
        self._account(number, arrived.received_s)

    def _set_aside(self, arrived: Arrived, misfit: Misfit) -> None:
        digest = self._quarantine(arrived, misfit)
        if misfit.number is not None:
            self._account(misfit.number, arrived.received_s)
        elif misfit.bench_id is not None and misfit.is_of_sequence:
            self._places.setdefault(misfit.bench_id, Places()).unreadable(digest)

    def _quarantine(self, arrived: Arrived, misfit: Misfit) -> bytes:
        number = misfit.number
        row = quarantine.Misfit(
            kind=misfit.kind,
            reason=misfit.reason,
            topic=arrived.topic,
            payload=arrived.payload,
            received_s=arrived.received_s,
            number=None if number is None else astuple(number),
        )
        if self._writing.quarantine(row):
            self.kept.counts["quarantined"] += 1
            self._is_untidy = True
            _log.warning("quarantine: %s: %r", misfit.kind, misfit.reason)
        else:
            self.kept.counts["quarantine-repeat"] += 1
        return row.digest

    def _account(self, number: Number, at_s: float) -> None:
        bench_id = BenchId(number.site, number.bench)
        tally = self._tally(bench_id, number.boot)
        places = self._places.get(bench_id)
        if places is not None:
            digest = places.numbered(number.boot, number.seq, tally)
            if digest is not None:
                before = (number.boot, number.seq - 1)
                self._writing.number_quarantined(*_names(bench_id), *before, digest, at_s)
                tally.add(number.seq - 1)
        tally.add(number.seq)
        self._moved.setdefault((bench_id, number.boot), 0)
        self._seen[bench_id] = at_s

    def _status(self, arrived: Arrived, bench_id: BenchId, status: Status) -> None:
        self._writing.status(*_names(bench_id), arrived.payload)
        if not arrived.is_retained:
            self._seen[bench_id] = arrived.received_s
        kept = [one for one in status.kept[:LISTED_N] if is_usable(one.boot, one.first)]
        for one in kept:
            tally = self._tally(bench_id, one.boot)
            if tally.through >= one.first:  # the bench has not heard of that
                self._moved.setdefault((bench_id, one.boot), 0)
        tallies = self._bench(bench_id)
        firsts = {one.boot: one.first for one in kept}
        lost = lost_by(status.boot, firsts, tallies, is_retained=arrived.is_retained)
        for boot, lost_n in lost.items():
            _log.warning("%s: %d messages of boot %s are lost", bench_id, lost_n, boot)
            self._moved[bench_id, boot] = self._moved.get((bench_id, boot), 0) + lost_n

    def _tally(self, bench_id: BenchId, boot: str) -> Tally:
        tallies = self._bench(bench_id)
        if boot not in tallies:
            tallies[boot] = Tally()
        return tallies[boot]

    def _bench(self, bench_id: BenchId) -> dict[str, Tally]:
        if bench_id not in self._tallies:
            standings = self._writing.standings(*_names(bench_id))
            self._tallies[bench_id] = {
                boot: Tally(one.through, one.beyond) for boot, one in standings.items()
            }
        return self._tallies[bench_id]


def _names(bench_id: BenchId) -> tuple[str, str]:
    return bench_id.site, bench_id.bench


def row_of(arrived: Arrived, numbered: Numbered) -> MessageRow:
    """Make the row of a message."""
    number, envelope = numbered.number, numbered.envelope
    body = envelope.body
    if isinstance(body, Samples):
        samples = body.samples
        t_first, t_last = (samples[0].t, samples[-1].t) if samples else (None, None)
    else:
        t_first = t_last = getattr(body, "t", None)
    return MessageRow(
        site=number.site,
        bench=number.bench,
        boot=number.boot,
        seq=number.seq,
        kit_job=envelope.job,
        leaf=envelope.leaf,
        t_first=t_first,
        t_last=t_last,
        received_s=arrived.received_s,
        payload=arrived.payload,
    )
