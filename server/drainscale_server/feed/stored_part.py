"""What the store knows of a bench's present job."""

from dataclasses import dataclass
from typing import Any

from drainscale.messages.topics import BenchId
from drainscale_server.orders.next_job import next_planned
from drainscale_server.store.rows import CueRow, EventRow, JobRow, NoteRow
from drainscale_server.store.store import Store

SHOWN_AFTER_S = 12 * 3600.0  # so long the last job stays on the board when nothing follows


@dataclass(frozen=True, slots=True)
class StoredPart:
    """The job on the bench and what is told of it, in time order."""

    job: JobRow | None = None
    events: tuple[EventRow, ...] = ()
    cues: tuple[CueRow, ...] = ()
    notes: tuple[NoteRow, ...] = ()
    result: dict[str, Any] | None = None
    is_final: bool = False
    last_seen_s: float | None = None


def read_stored(store: Store, site: str, bench: str, now_s: float) -> StoredPart:
    """Read it; blocks on the disk.

    Raises:
        StoreError: The store refuses.
    """
    row = store.bench(site, bench)
    last_seen_s = None if row is None else row.last_seen_s
    job = present_job(store, site, bench, now_s)
    if job is None:
        return StoredPart(last_seen_s=last_seen_s)
    return stored_part_of(store, job, last_seen_s)


def stored_part_of(store: Store, job: JobRow, last_seen_s: float | None = None) -> StoredPart:
    """Read what is told of one job; blocks on the disk.

    Raises:
        StoreError: The store refuses.
    """
    final = store.result(job.job, final=True)
    return StoredPart(
        job=job,
        events=tuple(store.events(job.job)),
        cues=tuple(store.cues(job.job)),
        notes=tuple(store.notes(job.job)),
        result=final if final is not None else store.result(job.job, final=False),
        is_final=final is not None,
        last_seen_s=last_seen_s,
    )


def present_job(store: Store, site: str, bench: str, now_s: float) -> JobRow | None:
    """Choose the job that the board shows: open, else the next one ordered, else the last one."""
    found = store.jobs(site, bench, ["open"], limit=1).rows
    if found:
        return found[0]
    planned = next_planned(store, BenchId(site, bench))
    if planned is not None:
        return planned
    over = store.jobs(site, bench, ["done", "aborted"], limit=1).rows
    is_recent = bool(over) and (over[0].closed_s or 0.0) > now_s - SHOWN_AFTER_S
    return over[0] if is_recent else None
