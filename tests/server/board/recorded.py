"""A recorded service as board states: what the feed would say of it at any moment."""

import gzip
from bisect import bisect_right
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import msgspec

from drainscale.messages.telegrams import Figures, JobOrder, Live, Status
from drainscale.quantities.job import Job
from drainscale_server.feed.compose import compose
from drainscale_server.feed.heard import Heard
from drainscale_server.feed.stored_part import StoredPart
from drainscale_server.store.rows import CueRow, EventRow, JobRow, NoteRow

FILE = Path(__file__).with_name("service.jsonl.gz")
SITE, BENCH, BOOT, JOB = "north", "bay-1", "b7c1d2e3f4a59607", "j-0a1b2c3d4e5f"
LABEL = "Aurelia Vento 2019 · AV-6S"
State = dict[str, Any]


@dataclass
class Service:
    """The lines of the recording, by kind."""

    spec: Job
    lives: list[Any] = field(default_factory=list)
    told: dict[str, list[Any]] = field(default_factory=dict)

    @property
    def times(self) -> list[float]:
        """Times of the figures, job's clock."""
        return [live["figures"]["t"] for live in self.lives]

    @property
    def end_t(self) -> float:
        """When the job was closed."""
        return float(self.told["job-closed"][-1]["t"])


@cache
def service() -> Service:
    """Read the recording."""
    lines = [msgspec.json.decode(line) for line in gzip.decompress(FILE.read_bytes()).splitlines()]
    found = Service(msgspec.convert(lines[0]["spec"], Job))
    for line in lines[1:]:
        if line["type"] == "live":
            found.lives.append(line)
        else:
            found.told.setdefault(line["type"], []).append(line)
    return found


def state_at(t: float, now_s: float, job_state: str | None = None) -> State:
    """Tell what the board is told when the job's clock shows ``t``.

    Args:
        t: Job's clock, s.
        now_s: The server's clock, s since 1970.
        job_state: ``planned`` or another state than the one that goes with ``t``.
    """
    found = service()
    is_over = t >= found.end_t
    heard = Heard()
    heard.take_status(_status(now_s), now_s)
    if job_state != "planned":
        for live in found.lives[: bisect_right(found.times, t)]:
            heard.take_live(_live(live), now_s)
    stored = _stored(t, now_s, job_state or ("done" if is_over else "open"))
    return dict(msgspec.to_builtins(compose(SITE, BENCH, stored, heard, now_s)))


def _status(now_s: float) -> Status:
    return Status(
        site=SITE, bench=BENCH, boot=BOOT, state="online", kit_version="0.1.0", now_s=now_s
    )


def _live(line: Any) -> Live:
    return Live(
        site=SITE,
        bench=BENCH,
        boot=BOOT,
        now_s=line["figures"]["t"],
        job=JOB,
        cue=line["cue"],
        cue_reason=line["cue_reason"],
        figures=msgspec.convert(line["figures"], Figures),
    )


def _stored(t: float, now_s: float, state: Any) -> StoredPart:
    found = service()
    spec = found.spec
    job = JobRow(
        job=JOB,
        site=SITE,
        bench=BENCH,
        kit_job=JOB,
        state=state,
        label=LABEL,
        spec=None if state == "planned" else spec,
        ordered=JobOrder(job=JOB, procedure=spec.procedure, fluid=spec.fluid, label=LABEL),
        opened_s=now_s - t,
    )
    if state == "planned":
        return StoredPart(job=job)

    def rows(kind: str, row: type[Any]) -> tuple[Any, ...]:
        until_t = [one for one in found.told.get(kind, []) if one["t"] <= t]
        return tuple(msgspec.convert({**one, "boot": BOOT, "seq": 1}, row) for one in until_t)

    result = found.told["result"][-1]["result"] if state == "done" else None
    return StoredPart(
        job=job,
        events=rows("event", EventRow),
        cues=rows("cue", CueRow),
        notes=rows("note", NoteRow),
        result=result,
        is_final=result is not None,
    )
