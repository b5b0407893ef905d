"""A record out of its sources. Pure: the same sources give the same record."""

from drainscale.errors import QuantityError
from drainscale.quantities.density import FluidDensity
from drainscale.quantities.job import FluidSheet, ProcedureLimits
from drainscale_server.record.answer import Answer, read_answer
from drainscale_server.record.entries import Entries
from drainscale_server.record.gates import gate_lines, pan_filter_answer
from drainscale_server.record.level import level_of
from drainscale_server.record.model import (
    Finality,
    FlowPoint,
    Limits,
    NotWeighed,
    Place,
    Seal,
    ServiceRecord,
    TemperaturePoint,
    Trends,
    Work,
)
from drainscale_server.record.sources import Sources
from drainscale_server.record.story import cues_of, faults_of, gaps_of, spans_of, steps_of
from drainscale_server.record.telling import (
    calibrations_of,
    changed_entries,
    fluid_of,
    used_oil_of,
    vehicle_of,
)
from drainscale_server.record.trend import Block, flows
from drainscale_server.record.volumes import volumes_of
from drainscale_server.store.rows import JobRow

OUTFLOW_STEPS = ("drain", "drain-pan", "level")
FILL_STEPS = ("refill",)


def build(sources: Sources) -> ServiceRecord:
    """Form the record."""
    job, entries = sources.job, Entries(sources.entries)
    answer = read_answer(sources.result)
    told = answer or Answer()
    limits = _limits(job)
    end_s = _end_s(sources)
    volumes = volumes_of(
        told,
        limits.allowance_L if limits else None,
        entries.number("total_capacity_L"),
        sources.digest.typed_in_L,
    )
    return ServiceRecord(
        finality=_finality(sources, answer),
        place=_place(job, entries, end_s),
        vehicle=vehicle_of(entries),
        fluid=fluid_of(_sheet(job), _density(_sheet(job)), entries),
        limits=_told_limits(limits),
        volumes=volumes,
        level=level_of(told, sources.events),
        steps=steps_of(told.steps, end_s),
        cues=cues_of(sources.cues),
        gaps=gaps_of(told, sources.events),
        faults=faults_of(sources.faults),
        disturbed_n=sum(1 for one in sources.events if one.event == "disturbed"),
        work=Work(
            gates=gate_lines(limits, sources.notes, job.state),
            washers_renewed=entries.texts("washers_renewed"),
            torques=entries.torques("torques"),
        ),
        not_weighed=_not_weighed(sources, entries, told),
        calibrations=calibrations_of(job.spec, entries),
        used_oil=used_oil_of(volumes, entries),
        trends=_trends(sources, told, end_s or 0.0),
        seal=_seal(sources),
    )


def _finality(sources: Sources, answer: Answer | None) -> Finality:
    if answer is None:
        return "none"
    return "final" if sources.is_final else "provisional"


def _limits(job: JobRow) -> ProcedureLimits | None:
    if job.spec is not None:
        return job.spec.procedure
    return job.ordered.procedure if job.ordered is not None else None


def _sheet(job: JobRow) -> FluidSheet | None:
    if job.spec is not None:
        return job.spec.fluid
    return job.ordered.fluid if job.ordered is not None else None


def _end_s(sources: Sources) -> float | None:
    ends = [sources.digest.end_s, *(one.t for one in sources.events)]
    return max((t for t in ends if t is not None), default=None)


def _place(job: JobRow, entries: Entries, end_s: float | None) -> Place:
    return Place(
        shop=entries.text("shop"),
        site=job.site,
        bench=job.bench,
        technician=entries.text("technician"),
        job=job.job,
        kit_job=job.kit_job,
        label=job.label,
        state=job.state,
        opened_at_s=job.opened_s,
        closed_at_s=job.closed_s,
        is_clock_set=job.is_clock_set,
        duration_s=end_s,
    )


def _density(sheet: FluidSheet | None) -> FluidDensity | None:
    try:
        return None if sheet is None else FluidDensity(sheet)
    except QuantityError:
        return None


def _told_limits(limits: ProcedureLimits | None) -> Limits | None:
    if limits is None:
        return None
    return Limits(
        level_method=limits.level_method,
        fill_via=limits.fill_via,
        window_C=limits.window_C,
        allowance_L=limits.allowance_L,
        close_flow_mL_per_min=limits.close_flow_mL_per_min,
        drip_flow_mL_per_min=limits.drip_flow_mL_per_min,
    )


def _not_weighed(sources: Sources, entries: Entries, answer: Answer) -> NotWeighed:
    bridged = [line.u_L for line in answer.drained.budget if line.source == "unweighed fluid"]
    return NotWeighed(
        pan_filter=entries.text("pan_filter") or pan_filter_answer(sources.notes),
        pan_filter_kg=entries.number("pan_filter_kg"),
        drips=entries.text("drips_note"),
        typed_in_L=sources.digest.typed_in_L,
        unweighed_u_L=bridged[0] if bridged else None,
    )


def _trends(sources: Sources, answer: Answer, end_s: float) -> Trends:
    digest, density = sources.digest, _density(_sheet(sources.job))
    flow: list[FlowPoint] = []
    if density is not None:
        out = spans_of(answer.steps, OUTFLOW_STEPS, end_s)
        fill = spans_of(answer.steps, FILL_STEPS, end_s)
        rho20 = density.rho20_kg_per_m3
        flow = _flow(digest.drain, rho20, out, is_filling=False)
        flow += _flow(digest.supply or digest.drain, rho20, fill, is_filling=True)
    return Trends(
        flow=sorted(flow, key=lambda point: point.t),
        temperature=[
            TemperaturePoint(
                t=one.t,
                fluid_C=one.fluid_C,
                U_fluid_C=one.U_fluid_C,
                opens_s=one.opens_s,
                opens_90=one.opens_90,
                closes_s=one.closes_s,
                closes_90=one.closes_90,
            )
            for one in answer.forecasts
        ],
        pan=digest.pan,
        end_s=end_s,
    )


def _flow(
    weighed: list[Block], rho20: float, spans: list[tuple[float, float]], *, is_filling: bool
) -> list[FlowPoint]:
    sign = -1.0 if is_filling else 1.0
    return [
        FlowPoint(t=t, flow_mL_per_min=None if flow is None else sign * flow, is_filling=is_filling)
        for t, flow in flows(weighed, rho20, spans)
    ]


def _seal(sources: Sources) -> Seal:
    return Seal(
        messages_sha256=sources.messages_sha256,
        messages_n=sources.messages_n,
        samples_n=sources.digest.samples_n,
        entries_sha256=sources.entries_sha256,
        changed=changed_entries(sources.history),
        kit_version=sources.job.kit_version,
        server_version=sources.server_version,
        samples_dropped_at_s=sources.job.samples_dropped_s,
    )
