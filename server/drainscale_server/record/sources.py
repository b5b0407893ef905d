"""What a record is made from, gathered from the store."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

import msgspec

from drainscale import __version__
from drainscale.messages.packs import PackError, decode_pack
from drainscale.messages.records import Samples
from drainscale.quantities.samples import Sample
from drainscale_server.record.digest import Digest, digest
from drainscale_server.record.kept import Kept, unpacked
from drainscale_server.store.rows import (
    CueRow,
    EventRow,
    FaultRow,
    JobRow,
    MessageRow,
    NoteRow,
    RecordEntry,
)
from drainscale_server.store.store import Store


@dataclass(frozen=True, slots=True, kw_only=True)
class Sources:
    """All that a record is made from.

    Attributes:
        result: The kit's answer, unchecked; None: there is none yet.
        entries: What people put on the record, the latest value of each key.
        history: All that they ever put there, oldest first.
        messages_sha256, messages_n: See ``ContentHash``.
    """

    job: JobRow
    result: dict[str, Any] | None
    is_final: bool
    events: list[EventRow]
    cues: list[CueRow]
    notes: list[NoteRow]
    faults: list[FaultRow]
    entries: dict[str, Any]
    history: list[RecordEntry]
    digest: Digest
    messages_sha256: str
    messages_n: int
    entries_sha256: str
    server_version: str = __version__


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What a record needs of a job's messages, taken in one pass.

    Attributes:
        last_received_s: When the last of them came, by the server's clock; 0 if there are none.
    """

    digest: Digest
    messages_sha256: str
    messages_n: int
    last_received_s: float


class ContentHash:
    """SHA-256 over the stored messages of a job, by which a copy can be checked.

    For each message in the order of the store (starts of the agent by their first time, then
    numbers): ``boot seq leaf length``, a line feed, the payload as it came, a line feed.

    Example:
        >>> made = ContentHash()
        >>> made.add("b1", 1, "event", b"{}")
        >>> made.hexdigest()[:8], made.messages_n
        ('da964a8f', 1)
    """

    def __init__(self) -> None:
        self._hash = sha256()
        self.messages_n = 0
        self.last_received_s = 0.0

    def add(self, boot: str, seq: int, leaf: str, payload: bytes) -> None:
        """Take the next message."""
        self._hash.update(f"{boot} {seq} {leaf} {len(payload)}\n".encode() + payload + b"\n")
        self.messages_n += 1

    def hexdigest(self) -> str:
        """Give the hash, in hexadecimal."""
        return self._hash.hexdigest()


def gather(store: Store, job_id: str) -> Sources | None:
    """Gather what a record is made from.

    Returns:
        It; None if there is no such job.

    Raises:
        StoreError: The store cannot be read.
    """
    job = store.job(job_id)
    if job is None:
        return None
    final = store.result(job_id, final=True)
    history = store.history(job_id)
    entries = {entry.key: entry.value for entry in history}
    job, taken = _taken(store, job)
    return Sources(
        job=job,
        result=store.result(job_id) if final is None else final,
        is_final=final is not None,
        events=store.events(job_id),
        cues=store.cues(job_id),
        notes=store.notes(job_id),
        faults=store.faults(job_id),
        entries=entries,
        history=history,
        digest=taken.digest,
        messages_sha256=taken.messages_sha256,
        messages_n=taken.messages_n,
        entries_sha256=sha256(msgspec.json.encode(entries, order="sorted")).hexdigest(),
    )


def take(store: Store, job: JobRow) -> Taken:
    """Go through the messages of a job that has all of its samples.

    Raises:
        StoreError: One of them went bad on the disk.
    """
    content = ContentHash()
    made = digest(_samples(store.messages(job.job), content), job.spec)
    return Taken(
        digest=made,
        messages_sha256=content.hexdigest(),
        messages_n=content.messages_n,
        last_received_s=content.last_received_s,
    )


def _taken(store: Store, job: JobRow) -> tuple[JobRow, Taken | Kept]:
    """Take it from the messages, or from what was kept when their samples were dropped."""
    if job.samples_dropped_s is None:
        taken = take(store, job)
        now = store.job(job.job)
        if now is None or now.samples_dropped_s is None:
            return job, taken
        job = now  # some may have gone under our hands
    raw = store.kept_of_samples(job.job)
    return job, Kept() if raw is None else unpacked(raw)


def _samples(messages: Iterable[MessageRow], content: ContentHash) -> Iterator[Sample]:
    for message in messages:
        content.add(message.boot, message.seq, message.leaf, message.payload)
        content.last_received_s = max(content.last_received_s, message.received_s)
        if message.leaf != "samples":
            continue
        try:
            body = decode_pack(message.payload, message.site, message.bench).body
        except PackError:  # pragma: no cover - the ingest lets only those in that can be read
            continue
        if isinstance(body, Samples):
            yield from body.samples
