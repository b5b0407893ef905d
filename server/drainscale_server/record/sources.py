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
    content = ContentHash()
    taken = digest(_samples(store.messages(job_id), content), job.spec)
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
        digest=taken,
        messages_sha256=content.hexdigest(),
        messages_n=content.messages_n,
        entries_sha256=sha256(msgspec.json.encode(entries, order="sorted")).hexdigest(),
    )


def _samples(messages: Iterable[MessageRow], content: ContentHash) -> Iterator[Sample]:
    for message in messages:
        content.add(message.boot, message.seq, message.leaf, message.payload)
        if message.leaf != "samples":
            continue
        try:
            body = decode_pack(message.payload, message.site, message.bench).body
        except PackError:  # pragma: no cover - the ingest lets only those in that can be read
            continue
        if isinstance(body, Samples):
            yield from body.samples
