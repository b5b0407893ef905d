"""A board's state at a given time, from what is stored and what was last heard. Pure."""

from contextlib import suppress
from typing import Any

import msgspec

from drainscale import __version__
from drainscale.messages.telegrams import Figures
from drainscale.procedure.cue_rules import REASONS
from drainscale.procedure.gates import GATE_BY_ID
from drainscale.quantities.job import ProcedureLimits
from drainscale_server.feed.board_state import (
    BenchPart,
    BoardState,
    CuePart,
    EventPart,
    FiguresPart,
    JobPart,
    LinkPart,
    LinkState,
    ResultPart,
    ServerPart,
)
from drainscale_server.feed.heard import Heard
from drainscale_server.feed.procedure import procedure_part
from drainscale_server.feed.stored_part import StoredPart
from drainscale_server.store.rows import JobRow

# a value older than this is no value any more: of the scale, the pan, the link
SCALE_STALE_S = 3.0
PAN_STALE_S = 5.0
LINK_STALE_S = 3.0
EVENTS_N = 20


def compose(
    site: str,
    bench: str,
    stored: StoredPart,
    heard: Heard,
    now_s: float,
    faults: tuple[str, ...] = (),
) -> BoardState:
    """Put it together.

    Args:
        site: Whose board.
        bench: Of which bench.
        stored: What the store knows.
        heard: What was last heard.
        now_s: The server's clock, s since 1970-01-01 UTC.
        faults: What keeps the server from its work.
    """
    job = stored.job
    figures = _figures_of(job, heard)
    limits = limits_of(job)
    return BoardState(
        server=ServerPart(version=__version__, now_s=now_s, faults=faults),
        link=link_part(heard, now_s, stored.last_seen_s),
        bench=_bench_part(site, bench, heard),
        job=None if job is None else job_part(job),
        procedure=procedure_part(stored, limits, figures),
        cue=_cue_part(stored, heard, figures),
        figures=None if figures is None else figures_part(figures, heard, now_s),
        events=tuple(
            EventPart(one.t, one.event, one.step, one.sensor) for one in stored.events[-EVENTS_N:]
        ),
        trend=heard.trend() if figures is not None else heard.trend(heard.points_n),
        result=None if stored.result is None else result_part(stored.result, stored.is_final),
    )


def limits_of(job: JobRow | None) -> ProcedureLimits | None:
    """Find the limits of a job: those that the kit works by, else those that were ordered."""
    if job is None:
        return None
    if job.spec is not None:
        return job.spec.procedure
    return None if job.ordered is None else job.ordered.procedure


def link_part(heard: Heard, now_s: float, last_seen_s: float | None = None) -> LinkPart:
    """Tell whether the kit is there.

    Args:
        heard: What was last heard of it.
        now_s: The server's clock.
        last_seen_s: When the store last heard of it, perhaps before the server was restarted.
    """
    status = heard.status
    last_s = last_seen_s if heard.message_s is None else heard.message_s
    age_s = None if last_s is None else max(0, int(now_s - last_s))
    if status is None:
        # live figures without a status: the status is on its way
        state: LinkState = "unknown" if heard.live is None else "online"
        return LinkPart(state=state, last_message_s=last_s, age_s=age_s)
    return LinkPart(state=status.state, reason=status.reason, last_message_s=last_s, age_s=age_s)


def figures_part(figures: Figures, heard: Heard, now_s: float) -> FiguresPart:
    """Mark what is too old; ages grow while nothing is heard."""
    silent_s = max(0.0, now_s - (heard.live_s or 0.0))
    is_cut = silent_s > LINK_STALE_S or (
        heard.status is not None and heard.status.state == "offline"
    )
    more_s = silent_s if is_cut else 0.0
    return FiguresPart(
        **msgspec.structs.asdict(figures),
        scale_is_stale=_is_old(figures.scale_age_s, more_s, SCALE_STALE_S),
        pan_is_stale=_is_old(figures.pan_age_s, more_s, PAN_STALE_S),
        link_is_stale=is_cut,
    )


def _is_old(age_s: float | None, more_s: float, limit_s: float) -> bool:
    return age_s is None or age_s + more_s > limit_s


def _figures_of(job: JobRow | None, heard: Heard) -> Figures | None:
    """The last figures, if they are of the job that is shown."""
    live = heard.live
    if live is None or job is None or live.job != job.kit_job:
        return None
    return live.figures


def _bench_part(site: str, bench: str, heard: Heard) -> BenchPart:
    status = heard.status
    return BenchPart(
        site=site,
        bench=bench,
        boot=heard.boot,
        now_s=heard.now_s,
        kit_version=None if status is None else status.kit_version,
        kit_faults=() if status is None else status.faults,
        counters={} if status is None else status.counters,
    )


def job_part(job: JobRow) -> JobPart:
    """Tell what job it is."""
    limits = limits_of(job)
    told: dict[str, Any] = {} if limits is None else msgspec.to_builtins(limits)
    if limits is not None:
        told["window_C"] = limits.window_C
    return JobPart(
        job=job.job,
        kit_job=job.kit_job,
        label=job.label,
        state=job.state,
        opened_s=job.opened_s,
        capacity_L=None if job.spec is None else job.spec.container.capacity_L,
        **told,
    )


def _cue_part(stored: StoredPart, heard: Heard, figures: Figures | None) -> CuePart | None:
    live, last = heard.live, stored.cues[-1] if stored.cues else None
    if figures is not None and live is not None:
        since_t = heard.cue_since_t
        if last is not None and last.cue == live.cue:
            since_t = last.t if since_t is None else min(last.t, since_t)
        return CuePart(
            cue=live.cue, reason=live.cue_reason, text=sentence(live.cue_reason), since_t=since_t
        )
    if last is None:
        return None
    return CuePart(cue=last.cue, reason=last.reason, text=sentence(last.reason), since_t=last.t)


def sentence(reason: str) -> str:
    """Say in a sentence what to do now: that of the rule, or of the gate that holds back."""
    gate = GATE_BY_ID.get(reason)
    return gate.ask if gate is not None else REASONS.get(reason, "")


def result_part(result: dict[str, Any], is_final: bool) -> ResultPart:
    """Take the main figures out of an answer in a replay's form; what is no number is not known."""
    drained, refill = _numbers(result, "drained"), _numbers(result, "refill")
    spill, net, level = (_numbers(result, key) for key in ("spill", "net", "level"))
    verdict = _table(result, "level").get("verdict")
    return ResultPart(
        is_final=is_final,
        verdict=verdict if isinstance(verdict, str) else None,
        drained_20C_L=drained.get("volume_20C_L"),
        U_drained_20C_L=drained.get("U_volume_L"),
        added_20C_L=refill.get("added_volume_20C_L"),
        U_added_20C_L=refill.get("U_volume_L"),
        spilled_mL=_mL(spill.get("volume_L")),
        U_spilled_mL=_mL(spill.get("U_volume_L")),
        net_20C_L=net.get("volume_20C_L"),
        U_net_20C_L=net.get("U_volume_L"),
        flow_at_close_mL_per_min=level.get("flow_at_close_mL_per_min"),
        temperature_at_close_C=level.get("temperature_at_close_C"),
        U_temperature_C=level.get("U_temperature_C"),
        excess_left_mL=level.get("excess_left_mL"),
    )


def _table(result: dict[str, Any], key: str) -> dict[str, Any]:
    found = result.get(key)
    return found if isinstance(found, dict) else {}


def _numbers(result: dict[str, Any], key: str) -> dict[str, float]:
    numbers: dict[str, float] = {}
    for name, value in _table(result, key).items():
        with suppress(msgspec.ValidationError):
            numbers[name] = msgspec.convert(value, float)
    return numbers


def _mL(volume_L: float | None) -> float | None:
    return None if volume_L is None else 1000.0 * volume_L
