"""A record out of its sources. Pure: the same sources give the same record."""

from collections.abc import Sequence

from drainscale.errors import QuantityError
from drainscale.quantities.density import FluidDensity
from drainscale.quantities.job import FluidSheet, Job, ProcedureLimits, ScaleSettings
from drainscale_server.record.answer import Answer, read_answer
from drainscale_server.record.entries import Entries
from drainscale_server.record.gates import gate_lines, pan_filter_answer
from drainscale_server.record.level import level_of
from drainscale_server.record.model import (
    CalibrationOf,
    Calibrations,
    ChangedEntry,
    Finality,
    FlowPoint,
    Fluid,
    Limits,
    NotWeighed,
    Place,
    Seal,
    ServiceRecord,
    TemperaturePoint,
    Trends,
    UsedOil,
    Vehicle,
    Volumes,
    Work,
)
from drainscale_server.record.sources import Sources
from drainscale_server.record.story import cues_of, faults_of, gaps_of, spans_of, steps_of
from drainscale_server.record.trend import Block, flows
from drainscale_server.record.volumes import volumes_of
from drainscale_server.store.rows import JobRow, RecordEntry

OUTFLOW_STEPS = ("drain", "drain-pan", "level")
FILL_STEPS = ("refill",)
_COVERAGE_FACTOR = 2.0


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
        vehicle=_vehicle(entries),
        fluid=_fluid(_sheet(job), entries),
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
        calibrations=_calibrations(job.spec, entries),
        used_oil=used_oil_of(volumes, entries),
        trends=_trends(sources, told, end_s or 0.0),
        seal=_seal(sources),
    )


def used_oil_of(volumes: Volumes, entries: Entries) -> UsedOil:
    """Form the line of the used-oil log: as typed, else what was drained and spilled."""
    typed_L = entries.number("used_oil_L")
    drained_L, spilled_L = volumes.drained.value_L, volumes.spilled.value_L
    weighed_L = None if drained_L is None else drained_L + (spilled_L or 0.0)
    return UsedOil(
        volume_L=weighed_L if typed_L is None else typed_L,
        is_typed=typed_L is not None,
        container=entries.text("used_oil_container"),
        log_line=entries.text("used_oil_log"),
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


def _vehicle(entries: Entries) -> Vehicle:
    return Vehicle(
        vehicle=entries.text("vehicle"),
        plate=entries.text("plate"),
        model=entries.text("model"),
        unit=entries.text("unit"),
        mileage_km=entries.number("mileage_km"),
        total_capacity_L=entries.number("total_capacity_L"),
        old_fluid=entries.text("old_fluid"),
        remarks=entries.text("remarks"),
    )


def _fluid(sheet: FluidSheet | None, entries: Entries) -> Fluid:
    return Fluid(
        name=entries.text("fluid_name"),
        lot=entries.text("fluid_lot"),
        density_kg_per_m3=sheet.density_kg_per_m3 if sheet else None,
        U_density_kg_per_m3=_COVERAGE_FACTOR * sheet.density_u_kg_per_m3 if sheet else None,
        density_C=sheet.density_C if sheet else None,
        density_origin=entries.text("density_origin"),
        density_warning=_density_warning(sheet),
        viscosity_40C_mm2_per_s=sheet.viscosity_40C_mm2_per_s if sheet else None,
        viscosity_100C_mm2_per_s=sheet.viscosity_100C_mm2_per_s if sheet else None,
    )


def _density(sheet: FluidSheet | None) -> FluidDensity | None:
    try:
        return None if sheet is None else FluidDensity(sheet)
    except QuantityError:
        return None


def _density_warning(sheet: FluidSheet | None) -> str | None:
    density = _density(sheet)
    return density.warning if density else None


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


def _calibrations(spec: Job | None, entries: Entries) -> Calibrations:
    scales = []
    if spec is not None:
        scales.append(_calibration(spec.scale, "drain scale", entries.text("scale_calibrated")))
        if spec.supply_scale is not None:
            date = entries.text("supply_scale_calibrated")
            scales.append(_calibration(spec.supply_scale, "supply scale", date))
    return Calibrations(
        scales=scales,
        reference=entries.text("calibration_reference"),
        pan_sensor_checked=entries.text("pan_sensor_checked"),
        sensor_u_C=spec.pan_sensor.sensor_u_C if spec else None,
    )


def _calibration(scale: ScaleSettings, name: str, date: str | None) -> CalibrationOf:
    return CalibrationOf(
        scale=name,
        date=date,
        points_kg=scale.calibration_kg,
        points_count=scale.calibration_counts,
        u_weight_kg=scale.calibration_u_kg,
        repeatability_u_kg=scale.repeatability_u_kg,
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


def changed_entries(history: Sequence[RecordEntry]) -> list[ChangedEntry]:
    """List what was put on the record with different content, by key."""
    by_key: dict[str, list[RecordEntry]] = {}
    for entry in history:
        held = by_key.setdefault(entry.key, [])
        if not held or held[-1].value != entry.value:
            held.append(entry)
    return [
        ChangedEntry(key=key, times=len(held) - 1, last_at_s=held[-1].at_s, by=held[-1].by)
        for key, held in sorted(by_key.items())
        if len(held) > 1
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
    )
