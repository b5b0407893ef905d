"""What the store hands out: one frozen record per kind of row. No SQL here, and no file.

``t`` is in seconds after the job's ``base_time_s``; every other time is in seconds since
1970-01-01 UTC by the server's own clock, unless it says otherwise.
"""

from typing import Any, Generic, Literal, TypeVar

import msgspec

from drainscale.messages.records import Teller
from drainscale.messages.telegrams import JobOrder, Status
from drainscale.quantities.job import Job

JobState = Literal["planned", "open", "done", "aborted", "taken-back"]
Row = TypeVar("Row")


class Page(msgspec.Struct, Generic[Row], frozen=True):
    """Some rows of many.

    Attributes:
        rows: In the order of the question.
        after: Give it to the next question, to go on behind the last row; None: that was all.
    """

    rows: list[Row]
    after: str | None = None


class BenchRow(msgspec.Struct, frozen=True, kw_only=True):
    """A bench, as it was last heard of.

    Attributes:
        status: Its last status; None if it never sent one that could be read.
        last_seen_s: When any message of it came in last; figures of the moment count to within
            ten seconds.
    """

    site: str
    bench: str
    status: Status | None = None
    last_seen_s: float | None = None


class JobRow(msgspec.Struct, frozen=True, kw_only=True):
    """A job, as far as it is known.

    Attributes:
        job: Its id, unique in this server: ``kit_job``, unless another bench had that before.
        kit_job: What its bench calls it; orders and commands carry this.
        state: ``planned``: ordered, not begun. A job whose beginning was lost is ``open``.
        base_time_s: Instant of ``t = 0`` by the kit's wall clock; says nothing unless
            ``is_clock_set``. None: not known.
        spec: What the core was told; None if not begun, or if that message was lost.
        ordered: The order as it went to the bench; None: begun at the bench.
        opened_s: When it began: by the kit's clock if that was set, else when the server heard.
        closed_s: When it was over; likewise.
        samples_dropped_s: When its samples were dropped; None: they are there.
    """

    job: str
    site: str
    bench: str
    kit_job: str
    state: JobState
    label: str = ""
    base_time_s: float | None = None
    is_clock_set: bool | None = None
    kit_version: str | None = None
    spec: Job | None = None
    ordered: JobOrder | None = None
    ordered_s: float | None = None
    opened_s: float | None = None
    closed_s: float | None = None
    samples_dropped_s: float | None = None


class EventRow(msgspec.Struct, frozen=True, kw_only=True):
    """The core knew something at ``t``."""

    t: float
    event: str
    step: str
    sensor: str | None
    boot: str
    seq: int


class CueRow(msgspec.Struct, frozen=True, kw_only=True):
    """What the technician was told from ``t`` on."""

    t: float
    cue: str
    reason: str
    step: str
    boot: str
    seq: int


class NoteRow(msgspec.Struct, frozen=True, kw_only=True):
    """A gate confirmed or overridden, a tick."""

    t: float
    key: str
    by: Teller
    text: str
    boot: str
    seq: int


class FaultRow(msgspec.Struct, frozen=True, kw_only=True):
    """A fault of the kit itself; ``t`` is None outside of a job."""

    t: float | None
    code: str
    text: str
    received_s: float
    boot: str
    seq: int


class RecordEntry(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that somebody put on a job's record; a later one of the same key replaces it."""

    key: str
    value: Any
    by: str
    at_s: float


QuarantineKind = Literal[
    "wrong-topic", "too-large", "unreadable", "newer-format", "conflict", "unstorable"
]


class QuarantineRow(msgspec.Struct, frozen=True, kw_only=True):
    """A message that could not be read, or not be stored.

    Attributes:
        place: Its number in the quarantine.
        boot, seq: Its number, where at least that could be read; such a one counts as received.
        size: Bytes that came; ``payload`` holds only the beginning of what was too large.
        repeats_n: How often the same came again.
    """

    place: int
    received_s: float
    kind: QuarantineKind
    reason: str
    topic: str
    boot: str | None
    seq: int | None
    size: int
    repeats_n: int
    payload: bytes


class MessageRow(msgspec.Struct, frozen=True, kw_only=True):
    """A numbered message on its way into the store.

    Attributes:
        kit_job: The job as the bench calls it; None outside of one.
        t_first, t_last: Of what is in it; None if it has no time.
        payload: As it came.
    """

    site: str
    bench: str
    boot: str
    seq: int
    kit_job: str | None
    leaf: str
    t_first: float | None
    t_last: float | None
    received_s: float
    payload: bytes


class Standing(msgspec.Struct, frozen=True, kw_only=True):
    """What is known of one start of a bench's agent.

    Attributes:
        through: Up to here every number is stored, in quarantine or lost for good.
        beyond: Numbers above that are stored or in quarantine, rising.
    """

    through: int
    beyond: tuple[int, ...] = ()
