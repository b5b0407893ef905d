"""What a board shows of one bench, section by section; None where something is not known.

A viewer gets all sections at first, later those that changed. Units are in the names. ``t``,
``since_t`` and ``started_t`` are on the job's clock (s after its beginning); names with ``_s`` on
a Unix clock, but for ``bench.now_s``, which is the kit's own.
"""

from typing import Literal

import msgspec

from drainscale.messages.telegrams import Figures

LinkState = Literal["online", "offline", "unknown"]
Mode = Literal["working", "cooling", "paused"]
TREND_S = 600.0
TREND_N = 300


class ServerPart(msgspec.Struct, frozen=True, kw_only=True):
    """The server itself; ``faults``: what keeps it from its work, a line each."""

    version: str
    now_s: float
    faults: tuple[str, ...] = ()


class LinkPart(msgspec.Struct, frozen=True, kw_only=True):
    """Whether the kit is there.

    Attributes:
        state: ``unknown``: nothing was heard since the server started.
        reason: Why it is offline, in the kit's or the broker's word.
        last_message_s: When the server last heard of it.
        age_s: Whole seconds since then.
    """

    state: LinkState = "unknown"
    reason: str = ""
    last_message_s: float | None = None
    age_s: int | None = None


class BenchPart(msgspec.Struct, frozen=True, kw_only=True):
    """The bench, in the words of its last status or live figures."""

    site: str
    bench: str
    boot: str | None = None
    now_s: float | None = None
    kit_version: str | None = None
    kit_faults: tuple[str, ...] = ()
    counters: dict[str, int] = {}


class JobPart(msgspec.Struct, frozen=True, kw_only=True):
    """The job on the bench: the open one, else the next one ordered, else the last one done."""

    job: str
    kit_job: str
    label: str
    state: str
    opened_s: float | None = None
    level_method: str | None = None
    fill_via: str | None = None
    window_C: tuple[float, float] | None = None
    allowance_L: float | None = None
    close_flow_mL_per_min: float | None = None
    drip_flow_mL_per_min: float | None = None
    approach_K: float | None = None
    capacity_L: float | None = None


class StepBegun(msgspec.Struct, frozen=True):
    """A step, and when it was first seen."""

    step: str
    started_t: float


class AnswerPart(msgspec.Struct, frozen=True):
    """One answer that a gate takes."""

    key: str
    text: str


class GatePart(msgspec.Struct, frozen=True, kw_only=True):
    """One gate of this unit.

    Attributes:
        group: Where it is answered: ``before-drain``, ``at-step``, ``after-seal``.
        moment: What it stands before.
        kind: ``tick``: a person says so; ``question``: with one of several answers;
            ``measured``: the kit sees it, a person confirms at most.
        is_asked: Whether it is what the present step asks.
        answer: Key of the answer, ``measured``, or None.
        by: Who gave it.
    """

    id: str
    group: str
    moment: str
    text: str
    kind: Literal["tick", "question", "measured"]
    answers: tuple[AnswerPart, ...]
    is_asked: bool
    answer: str | None = None
    by: str | None = None


class CautionPart(msgspec.Struct, frozen=True):
    """What to be careful of now."""

    key: str
    text: str


class ProcedurePart(msgspec.Struct, frozen=True, kw_only=True):
    """Where the service stands; ``mode``: whether the work goes on, or waits."""

    step: str | None = None
    mode: Mode = "working"
    steps: tuple[StepBegun, ...] = ()
    next_step: str | None = None
    gates: tuple[GatePart, ...] = ()
    cautions: tuple[CautionPart, ...] = ()


class CuePart(msgspec.Struct, frozen=True, kw_only=True):
    """What the technician is told, why, and since when."""

    cue: str
    reason: str
    text: str
    since_t: float | None = None


class FiguresPart(Figures, frozen=True, kw_only=True):
    """The figures of the moment, and which of them are too old to be shown as values."""

    scale_is_stale: bool = False
    pan_is_stale: bool = False
    link_is_stale: bool = False


class EventPart(msgspec.Struct, frozen=True):
    """One event of the core."""

    t: float
    event: str
    step: str
    sensor: str | None


class TrendPart(msgspec.Struct, frozen=True, kw_only=True):
    """The last ten minutes, in columns of one length."""

    t: tuple[float, ...] = ()
    flow_mL_per_min: tuple[float | None, ...] = ()
    fluid_C: tuple[float | None, ...] = ()
    U_fluid_C: tuple[float | None, ...] = ()
    pan_C: tuple[float | None, ...] = ()


class ResultPart(msgspec.Struct, frozen=True, kw_only=True):
    """The answer of the service in its main figures; U with k = 2."""

    is_final: bool
    verdict: str | None = None
    drained_20C_L: float | None = None
    U_drained_20C_L: float | None = None
    added_20C_L: float | None = None
    U_added_20C_L: float | None = None
    spilled_mL: float | None = None
    U_spilled_mL: float | None = None
    net_20C_L: float | None = None
    U_net_20C_L: float | None = None
    flow_at_close_mL_per_min: float | None = None
    temperature_at_close_C: float | None = None
    U_temperature_C: float | None = None
    excess_left_mL: float | None = None


class BoardState(msgspec.Struct, frozen=True, kw_only=True):
    """All of it."""

    server: ServerPart
    link: LinkPart
    bench: BenchPart
    job: JobPart | None = None
    procedure: ProcedurePart = ProcedurePart()
    cue: CuePart | None = None
    figures: FiguresPart | None = None
    events: tuple[EventPart, ...] = ()
    trend: TrendPart = TrendPart()
    result: ResultPart | None = None
