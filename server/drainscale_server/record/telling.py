"""What people and the job itself told: vehicle, fluid, calibrations, used oil. Pure."""

from collections.abc import Sequence

from drainscale.quantities.density import FluidDensity
from drainscale.quantities.job import FluidSheet, Job, ScaleSettings
from drainscale_server.record.entries import Entries
from drainscale_server.record.model import (
    CalibrationOf,
    Calibrations,
    ChangedEntry,
    Fluid,
    UsedOil,
    Vehicle,
    Volumes,
)
from drainscale_server.store.rows import RecordEntry

_COVERAGE_FACTOR = 2.0


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


def vehicle_of(entries: Entries) -> Vehicle:
    """Form the part on what was serviced."""
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


def fluid_of(sheet: FluidSheet | None, density: FluidDensity | None, entries: Entries) -> Fluid:
    """Form the part on the new fluid."""
    return Fluid(
        name=entries.text("fluid_name"),
        lot=entries.text("fluid_lot"),
        density_kg_per_m3=sheet.density_kg_per_m3 if sheet else None,
        U_density_kg_per_m3=_COVERAGE_FACTOR * sheet.density_u_kg_per_m3 if sheet else None,
        density_C=sheet.density_C if sheet else None,
        density_origin=entries.text("density_origin"),
        density_warning=density.warning if density else None,
        viscosity_40C_mm2_per_s=sheet.viscosity_40C_mm2_per_s if sheet else None,
        viscosity_100C_mm2_per_s=sheet.viscosity_100C_mm2_per_s if sheet else None,
    )


def calibrations_of(spec: Job | None, entries: Entries) -> Calibrations:
    """Form the part on what the numbers stand on."""
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
