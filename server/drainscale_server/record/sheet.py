"""The record in words: sections for the page and the document alike. Pure."""

from datetime import UTC, tzinfo

from drainscale.quantities.units import celsius_to_fahrenheit
from drainscale_server.record import wording as words
from drainscale_server.record.blocks import Block, Facts, Plot, Section, Sheet, Table, Words
from drainscale_server.record.evidence import (
    calibration_section,
    cautions_section,
    proof_section,
    trouble_section,
)
from drainscale_server.record.figures import (
    NOT_MEASURED,
    NOT_TOLD,
    clock,
    date_and_time,
    grouped,
    litres,
    millilitres,
    number,
    quarts,
    temperature,
    temperature_F,
    told,
    with_u,
)
from drainscale_server.record.model import Fluid, Place, Reading, ServiceRecord, Volume
from drainscale_server.record.plots import plots_of
from drainscale_server.record.volumes import volume
from drainscale_server.record.work import not_weighed_section, times_section, work_section

KM_PER_MILE = 1.609344  # international mile, 1959: exact


def sheet_of(record: ServiceRecord, zone: tzinfo = UTC) -> Sheet:
    """Write a record in words.

    Args:
        record: What is known.
        zone: For dates and times of day.
    """
    place = record.place
    heading = place.shop or f"{place.site} / {place.bench}"
    date = date_and_time(place.opened_at_s, zone)
    sections = (
        _volumes_section(record),
        _level_section(record),
        _vehicle_section(record),
        _job_section(record, zone),
        _plots_section(record),
        times_section(record),
        work_section(record),
        not_weighed_section(record),
        trouble_section(record),
        calibration_section(record),
        cautions_section(),
        proof_section(record, zone),
    )
    return Sheet(
        title=words.TITLE,
        heading=heading,
        subtitle=f"Job {place.job} · {date}",
        footer=f"{heading} · job {place.job} · not for trade",
        verdict=verdict_words(record),
        is_level_set=record.level.verdict == "closed-in-window",
        alerts=_alerts(record),
        sections=tuple(one for one in sections if one.blocks),
    )


def verdict_words(record: ServiceRecord) -> str:
    """Say in plain words whether the level is set."""
    if record.finality == "none":
        return words.NO_RESULT
    verdict = record.level.verdict
    return words.VERDICTS.get(verdict, f"{words.UNKNOWN_VERDICT}: {verdict}")


def _alerts(record: ServiceRecord) -> tuple[str, ...]:
    state = record.place.state
    alerts = [] if state == "done" else [words.STATES.get(state, state)]
    said = words.FINALITIES[record.finality]
    return tuple(alerts + ([said] if said else []))


def _volumes_section(record: ServiceRecord) -> Section:
    volumes = record.volumes
    rows = (
        _volume_row("Drained", volumes.drained),
        _volume_row("Added", volumes.added),
        _volume_row("Spilled at the level check", volumes.spilled),
        _volume_row("Net: added − spilled − drained", volumes.net),
        _volume_row("Target: drained + allowance", volumes.target),
        _volume_row("Allowance", volumes.allowance),
    )
    blocks: list[Block] = [
        Table(
            "Volumes at 20 °C, U with k = 2",
            ("Volume at 20 °C", "L", "US qt", "if small"),
            rows,
            (0.37, 0.24, 0.25, 0.14),
            frozenset({1, 2, 3}),
        ),
        Words(net_words(volumes.net), "strong"),
        Facts(
            (
                ("Drained, as it ran out", _as_it_ran(volumes.drained_as_it_ran)),
                ("Spilled, as it ran out", _as_it_ran(volumes.spilled_as_it_ran)),
                ("Share of new fluid by this service", _new_share(record)),
                ("Largest source of U (drained)", _largest_source(record)),
            )
        ),
    ]
    return Section("What came out, what went in", tuple(blocks))


def net_words(net: Volume) -> str:
    """Say in plain words what net means for the unit."""
    if net.value_L is None:
        return words.NET_UNKNOWN
    size = volume(abs(net.value_L), net.U_L)
    if net.U_L is not None and abs(net.value_L) <= net.U_L:
        return words.NET_SAME
    more = "more" if net.value_L > 0.0 else "less"
    return words.NET.format(size=millilitres(size) or litres(size), more=more)


def _volume_row(name: str, volume: Volume) -> tuple[str, str, str, str]:
    return name, litres(volume), quarts(volume), millilitres(volume)


def _as_it_ran(volume: Volume) -> str:
    if volume.value_L is None:
        return NOT_MEASURED
    return f"{litres(volume)} ({quarts(volume)}) {volume.basis}"


def _new_share(record: ServiceRecord) -> str:
    share, total_L = record.volumes.new_share, record.vehicle.total_capacity_L
    if share is None:
        return NOT_MEASURED if total_L is not None else "total capacity not told"
    return f"{100.0 * share:.0f} % ({words.NEW_SHARE})"


def _largest_source(record: ServiceRecord) -> str:
    source, share = record.volumes.largest_source, record.volumes.largest_share
    return NOT_MEASURED if source is None or share is None else f"{source}, {100.0 * share:.0f} %"


def _level_section(record: ServiceRecord) -> Section:
    level, limits = record.level, record.limits
    rows = [
        ("At the cue to open", _at(level.open_cue)),
        ("At the cue to shut", _at(level.shut_cue)),
        (
            "Flow at the cue to shut",
            number(level.flow_at_shut_cue_mL_per_min, "mL/min", 0),
        ),
        ("Still above the rim then", number(level.excess_left_mL, "mL", 0)),
    ]
    if limits is not None:
        low, high = limits.window_C
        rows += [
            (
                "Window of the fluid",
                f"{low:g} to {high:g} °C ({celsius_to_fahrenheit(low):g} to "
                f"{celsius_to_fahrenheit(high):g} °F)",
            ),
            ("Thin stream: shut below", number(limits.close_flow_mL_per_min, "mL/min", 0)),
        ]
    attempts = Table(
        "Attempts: fluid temperature when the level plug was opened and shut",
        ("Attempt", "opened", "fluid", "shut", "fluid", "told"),
        tuple(
            (
                str(n),
                clock(one.opened.t),
                temperature(one.opened),
                clock(one.shut.t) if one.shut.t is not None else "not seen shut",
                temperature(one.shut),
                ", ".join(words.ATTEMPT_EVENTS.get(event, event) for event in one.events) or "–",
            )
            for n, one in enumerate(level.attempts, start=1)
        ),
        (0.10, 0.11, 0.18, 0.13, 0.18, 0.30),
    )
    none = Words(words.NO_ATTEMPT if record.steps else words.NO_STEPS)
    return Section("Level check", (Facts(tuple(rows)), attempts if level.attempts else none))


def _at(reading: Reading) -> str:
    if reading.t is None:
        return NOT_MEASURED
    return f"{temperature_F(reading)} at {clock(reading.t)}"


def _vehicle_section(record: ServiceRecord) -> Section:
    vehicle, fluid = record.vehicle, record.fluid
    return Section(
        "Vehicle and fluid",
        (
            Facts(
                (
                    ("Vehicle", told(vehicle.vehicle)),
                    ("Plate", told(vehicle.plate)),
                    ("Mileage", _mileage(vehicle.mileage_km)),
                    ("Transmission model", told(vehicle.model)),
                    ("Unit", told(vehicle.unit)),
                    ("Total capacity", _capacity(vehicle.total_capacity_L)),
                    ("Condition of the old fluid", told(vehicle.old_fluid)),
                    ("New fluid", told(fluid.name)),
                    ("Lot", told(fluid.lot)),
                    ("Density", _density(fluid)),
                    ("Viscosity", _viscosity(fluid)),
                ),
                columns=2,
            ),
            Facts((("Remarks", told(vehicle.remarks)),)),
            *([Words(fluid.density_warning, "warning")] if fluid.density_warning else []),
        ),
    )


def _mileage(mileage_km: float | None) -> str:
    if mileage_km is None:
        return NOT_TOLD
    return f"{grouped(mileage_km)} km ({grouped(mileage_km / KM_PER_MILE)} miles)"


def _capacity(total_L: float | None) -> str:
    return NOT_TOLD if total_L is None else f"{total_L:g} L, as typed in"


def _density(fluid: Fluid) -> str:
    if fluid.density_kg_per_m3 is None:
        return NOT_TOLD
    value = with_u(fluid.density_kg_per_m3, fluid.U_density_kg_per_m3, "kg/m³", 1)
    origin = words.DENSITY_ORIGINS.get(fluid.density_origin or "", "origin not told")
    return f"{value} at {fluid.density_C:g} °C, {origin}"


def _viscosity(fluid: Fluid) -> str:
    if fluid.viscosity_40C_mm2_per_s is None or fluid.viscosity_100C_mm2_per_s is None:
        return NOT_TOLD
    return (
        f"{fluid.viscosity_40C_mm2_per_s:g} mm²/s at 40 °C, "
        f"{fluid.viscosity_100C_mm2_per_s:g} mm²/s at 100 °C"
    )


def _job_section(record: ServiceRecord, zone: tzinfo) -> Section:
    place, limits = record.place, record.limits
    kit_job = f"{place.kit_job} (as the bench calls it)" if place.kit_job != place.job else ""
    rows = [
        ("Job", " ".join(one for one in (place.job, kit_job, place.label) if one)),
        ("Site and bench", f"{place.site} / {place.bench}"),
        ("Technician", told(place.technician)),
        ("Begun", date_and_time(place.opened_at_s, zone)),
        ("Closed", _closed(place, zone)),
        ("Lasted", clock(place.duration_s)),
        ("State", words.STATES.get(place.state, place.state)),
    ]
    if limits is not None:
        method = words.LEVEL_METHODS.get(limits.level_method, limits.level_method)
        via = words.FILL_VIA.get(limits.fill_via, limits.fill_via)
        rows += [
            ("Level set by", f"{method}; filled through the {via}"),
            ("Drip limit", number(limits.drip_flow_mL_per_min, "mL/min", 1)),
        ]
    blocks: list[Block] = [Facts(tuple(rows), columns=2)]
    if place.is_clock_set is False:
        blocks.append(Words(words.CLOCK_NOT_SET, "warning"))
    return Section("Job", tuple(blocks))


def _closed(place: Place, zone: tzinfo) -> str:
    if place.closed_at_s is None and place.state in ("planned", "open"):
        return "not yet"
    return date_and_time(place.closed_at_s, zone)


def _plots_section(record: ServiceRecord) -> Section:
    plots = tuple(Plot(one, words.CAPTIONS.get(one.title, "")) for one in plots_of(record))
    return Section("Course of the job", plots or (Words("Nothing was measured to be drawn."),))
