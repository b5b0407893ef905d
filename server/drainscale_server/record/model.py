"""The service record as data. None is "not measured" or "not told", never a guess and never 0.

Units are in the names. ``U_`` is an expanded uncertainty (k = 2, about 95 %). Times are in s
after the job's beginning unless they end in ``_at_s`` (s since 1970-01-01 UTC).
"""

from typing import Literal

import msgspec

FORMAT = 1

Finality = Literal["final", "provisional", "none"]


class Volume(msgspec.Struct, frozen=True, kw_only=True):
    """A volume with its uncertainty, in litres and in US liquid quarts.

    Attributes:
        basis: At which temperature: ``at 20 °C``, or as it ran.
    """

    value_L: float | None
    U_L: float | None
    value_qt: float | None
    U_qt: float | None
    basis: str


class Reading(msgspec.Struct, frozen=True, kw_only=True):
    """An estimated fluid temperature at one instant."""

    t: float | None
    fluid_C: float | None
    U_fluid_C: float | None


class Place(msgspec.Struct, frozen=True, kw_only=True):
    """Where and when, and whose job it was."""

    shop: str | None
    site: str
    bench: str
    technician: str | None
    job: str
    kit_job: str
    label: str
    state: str
    opened_at_s: float | None
    closed_at_s: float | None
    is_clock_set: bool | None
    duration_s: float | None


class Vehicle(msgspec.Struct, frozen=True, kw_only=True):
    """What was serviced, as it was typed in."""

    vehicle: str | None
    plate: str | None
    model: str | None
    unit: str | None
    mileage_km: float | None
    total_capacity_L: float | None
    old_fluid: str | None
    remarks: str | None


class Fluid(msgspec.Struct, frozen=True, kw_only=True):
    """The new fluid."""

    name: str | None
    lot: str | None
    density_kg_per_m3: float | None
    U_density_kg_per_m3: float | None
    density_C: float | None
    density_origin: str | None
    density_warning: str | None
    viscosity_40C_mm2_per_s: float | None
    viscosity_100C_mm2_per_s: float | None


class Limits(msgspec.Struct, frozen=True, kw_only=True):
    """The limits that the job was done to."""

    level_method: str
    fill_via: str
    window_C: tuple[float, float]
    allowance_L: float
    close_flow_mL_per_min: float
    drip_flow_mL_per_min: float


class Stage(msgspec.Struct, frozen=True, kw_only=True):
    """One flow of the drain."""

    step: str
    mass_kg: float | None
    as_it_ran: Volume
    started_s: float | None
    dripped_s: float | None


class Volumes(msgspec.Struct, frozen=True, kw_only=True):
    """What came out and what went in."""

    drained: Volume
    drained_as_it_ran: Volume
    drained_mass_kg: float | None
    stages: list[Stage]
    added: Volume
    added_mass_kg: float | None
    spilled: Volume
    spilled_as_it_ran: Volume
    spilled_mass_kg: float | None
    net: Volume
    allowance: Volume
    target: Volume
    typed_in: Volume
    new_share: float | None
    """Drained over total capacity, if that was told."""
    largest_source: str | None
    """Of the uncertainty of the drained volume."""
    largest_share: float | None


class Attempt(msgspec.Struct, frozen=True, kw_only=True):
    """One opening of the level plug."""

    opened: Reading
    shut: Reading
    events: list[str]


class Level(msgspec.Struct, frozen=True, kw_only=True):
    """How the level was set; the figures are those of the last attempt."""

    verdict: str
    open_cue: Reading
    shut_cue: Reading
    flow_at_shut_cue_mL_per_min: float | None
    excess_left_mL: float | None
    attempts: list[Attempt]


class StepTime(msgspec.Struct, frozen=True, kw_only=True):
    """A step as it was gone through."""

    step: str
    started_s: float
    lasted_s: float | None


class CueTime(msgspec.Struct, frozen=True, kw_only=True):
    """What the technician was told from ``t`` on."""

    t: float
    cue: str
    reason: str
    text: str


class Gap(msgspec.Struct, frozen=True, kw_only=True):
    """A stretch in which a sensor, or all of them, gave nothing."""

    what: str
    from_s: float
    to_s: float | None


class KitFault(msgspec.Struct, frozen=True, kw_only=True):
    """A fault of the kit itself."""

    t: float | None
    code: str
    text: str


class GateLine(msgspec.Struct, frozen=True, kw_only=True):
    """How it stood with one gate when it was passed."""

    gate: str
    ask: str
    moment: str
    outcome: str
    answer: str | None
    by: str | None
    t: float | None


class Torque(msgspec.Struct, frozen=True, kw_only=True):
    """A torque as it was typed in."""

    part: str
    torque_Nm: float


class Work(msgspec.Struct, frozen=True, kw_only=True):
    """What people say they did."""

    gates: list[GateLine]
    washers_renewed: list[str] | None
    torques: list[Torque] | None


class NotWeighed(msgspec.Struct, frozen=True, kw_only=True):
    """What the drained and added figures do not hold, or do not know by weight."""

    pan_filter: str | None
    pan_filter_kg: float | None
    drips: str | None
    typed_in_L: float | None
    unweighed_u_L: float | None
    """Standard uncertainty (k = 1) for fluid bridged or fallen beside, in the drained figure."""


class CalibrationOf(msgspec.Struct, frozen=True, kw_only=True):
    """The calibration of one scale."""

    scale: str
    date: str | None
    points_kg: tuple[float, ...]
    points_count: tuple[float, ...]
    u_weight_kg: float
    repeatability_u_kg: float


class Calibrations(msgspec.Struct, frozen=True, kw_only=True):
    """What the numbers stand on."""

    scales: list[CalibrationOf]
    reference: str | None
    pan_sensor_checked: str | None
    sensor_u_C: float | None


class UsedOil(msgspec.Struct, frozen=True, kw_only=True):
    """Line of the used-oil log."""

    volume_L: float | None
    is_typed: bool
    container: str | None
    log_line: str | None


class FlowPoint(msgspec.Struct, frozen=True, kw_only=True):
    """Flow out of the unit (drain, spill) or into it (refill), from the stored samples."""

    t: float
    flow_mL_per_min: float | None
    is_filling: bool


class TemperaturePoint(msgspec.Struct, frozen=True, kw_only=True):
    """Estimate and forecasts as they stood at ``t``."""

    t: float
    fluid_C: float | None
    U_fluid_C: float | None
    opens_s: float | None
    opens_90: tuple[float, float] | None
    closes_s: float | None
    closes_90: tuple[float, float] | None


class PanPoint(msgspec.Struct, frozen=True, kw_only=True):
    """A pan reading; None where the converter told a fault."""

    t: float
    pan_C: float | None


class Trends(msgspec.Struct, frozen=True, kw_only=True):
    """For the plots."""

    flow: list[FlowPoint]
    temperature: list[TemperaturePoint]
    pan: list[PanPoint]
    end_s: float


class ChangedEntry(msgspec.Struct, frozen=True, kw_only=True):
    """What somebody put on the record, and put right later; the store keeps each."""

    key: str
    times: int
    last_at_s: float
    by: str


class Seal(msgspec.Struct, frozen=True, kw_only=True):
    """By what a copy can be checked, and by what it was made.

    Attributes:
        messages_sha256: Over the stored messages of the job, see ``sources.content_hash``.
        entries_sha256: Over what people put on the record.
        changed: What was put there more than once, with different content, and when last.
        samples_dropped_at_s: When the samples were dropped; None: they are there.
    """

    messages_sha256: str
    messages_n: int
    samples_n: int
    entries_sha256: str
    changed: list[ChangedEntry]
    kit_version: str | None
    server_version: str
    samples_dropped_at_s: float | None = None


class ServiceRecord(msgspec.Struct, frozen=True, kw_only=True):
    """All that the page and the document show."""

    format: int = FORMAT
    finality: Finality
    place: Place
    vehicle: Vehicle
    fluid: Fluid
    limits: Limits | None
    volumes: Volumes
    level: Level
    steps: list[StepTime]
    cues: list[CueTime]
    gaps: list[Gap]
    faults: list[KitFault]
    disturbed_n: int
    work: Work
    not_weighed: NotWeighed
    calibrations: Calibrations
    used_oil: UsedOil
    trends: Trends
    seal: Seal
