"""Numbered records: what the kit tells the server for good, each with its sequence number.

    Envelope(site, bench, boot, seq, job, body)      body: one of BODIES, told apart by "type"

``boot`` is new at every start of the agent, ``seq`` counts from 1 within it and no number is
used twice; the three together name a message for ever, so a receiver stores once what comes
twice. Fields that a reader does not know are ignored; ``format`` is raised only when an old
reader would fail. ``t`` is in seconds after the job's base time, as in a recording.
"""

from typing import Any, Literal, get_args

import msgspec

from drainscale.quantities.job import Job
from drainscale.quantities.samples import Sample

FORMAT = 1

Outcome = Literal["done", "aborted"]
Teller = Literal["foot-switch", "board", "kit"]


class JobOpened(msgspec.Struct, frozen=True, kw_only=True, tag="job-opened"):
    """A job begins.

    Attributes:
        base_time_s: Instant of ``t = 0``, seconds since 1970-01-01 UTC, as the kit's wall
            clock had it.
        is_clock_set: False: the wall clock had not been set yet (a Pi has no battery for it),
            so ``base_time_s`` says nothing; the durations are right all the same.
        kernel_boot: Which start of the machine it was; while it is the same, the monotonic
            clock goes on, so a resumed job can tell how long it was away.
        started_monotonic_s: The monotonic clock at ``t = 0``.
        kit_version: Version of the kit that measures.
        spec: Limits, fluid, calibrations and priors that the core was given.
    """

    base_time_s: float
    is_clock_set: bool
    kernel_boot: str
    started_monotonic_s: float
    kit_version: str
    spec: Job


class Samples(msgspec.Struct, frozen=True, kw_only=True, tag="samples"):
    """A batch of samples in time order; travels as a SenML pack (``packs``).

    Attributes:
        base_time_s, is_clock_set: As in ``JobOpened``; repeated, so that a pack can be read
            alone.
        samples: What the core was fed, exactly.
        ignored_n: Records of a name or label that this version does not know.
    """

    base_time_s: float
    is_clock_set: bool
    samples: tuple[Sample, ...]
    ignored_n: int = 0


class EventTold(msgspec.Struct, frozen=True, kw_only=True, tag="event"):
    """The core knew something at ``t``; the names are those of a replay's events."""

    t: float
    event: str
    step: str
    sensor: str | None = None


class CueShown(msgspec.Struct, frozen=True, kw_only=True, tag="cue"):
    """What the technician was told from ``t`` on, and why (key of the rule, or of the gate)."""

    t: float
    cue: str
    reason: str
    step: str


class Note(msgspec.Struct, frozen=True, kw_only=True, tag="note"):
    """What stands on the record beside the measurement: a gate confirmed or overridden, a tick."""

    t: float
    key: str
    by: Teller
    text: str = ""


class FaultTold(msgspec.Struct, frozen=True, kw_only=True, tag="fault"):
    """A fault of the kit itself: spool, uplink, pins; sensor faults are events.

    ``t`` is None outside of a job.
    """

    code: str
    text: str
    t: float | None = None


class ResultFormed(msgspec.Struct, frozen=True, kw_only=True, tag="result"):
    """The answer of the service, in the form of a replay's answer, with its gaps."""

    t: float
    is_final: bool
    result: dict[str, Any]


class JobClosed(msgspec.Struct, frozen=True, kw_only=True, tag="job-closed"):
    """A job is over; from here on the spool may forget what the server has acknowledged."""

    t: float
    outcome: Outcome


TypedBody = JobOpened | EventTold | CueShown | Note | FaultTold | ResultFormed | JobClosed
Body = TypedBody | Samples
BODIES: dict[str, type[Body]] = {
    str(kind.__struct_config__.tag): kind for kind in (*get_args(TypedBody), Samples)
}


class Envelope(msgspec.Struct, frozen=True, kw_only=True):
    """One numbered message: whose it is, which one, and what it says.

    Attributes:
        boot: Which start of the agent.
        seq: Its number within that start, from 1.
        job: The job it belongs to, None outside of one.
    """

    site: str
    bench: str
    boot: str
    seq: int
    body: Body
    job: str | None = None
    format: int = FORMAT

    @property
    def leaf(self) -> str:
        """The last level of its topic."""
        return leaf_of(self.body)


def leaf_of(body: Body) -> str:
    """Name the leaf of the topic that a body travels on: its type."""
    return str(body.__struct_config__.tag)
