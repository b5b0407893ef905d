"""Sections on what the numbers stand on: troubles, calibration, cautions, versions, hash."""

from datetime import tzinfo

from drainscale.procedure.cautions import CAUTIONS
from drainscale_server.record import wording as words
from drainscale_server.record.blocks import Block, Facts, Points, Section, Table, Words
from drainscale_server.record.figures import NOT_TOLD, clock, date_and_time, told
from drainscale_server.record.model import CalibrationOf, ServiceRecord
from drainscale_server.record.work import trouble_words


def trouble_section(record: ServiceRecord) -> Section:
    """Write faults, gaps and disturbances."""
    blocks: list[Block] = []
    if record.gaps:
        blocks.append(
            Table(
                "Stretches without a value",
                ("What", "from", "to"),
                tuple(
                    (
                        words.SENSORS.get(gap.what, gap.what),
                        clock(gap.from_s),
                        "not restored" if gap.to_s is None else clock(gap.to_s),
                    )
                    for gap in record.gaps
                ),
                (0.5, 0.25, 0.25),
                frozenset({1, 2}),
            )
        )
    else:
        blocks.append(Words("No sensor failed and none fell silent, as far as the kit told."))
    if record.faults:
        blocks.append(
            Table(
                "Faults of the kit itself",
                ("Time", "code", "what it said"),
                tuple(
                    ("–" if one.t is None else clock(one.t), one.code, one.text)
                    for one in record.faults
                ),
                (0.12, 0.22, 0.66),
            )
        )
    blocks.append(trouble_words(record.disturbed_n))
    return Section("Faults and gaps", tuple(blocks))


def calibration_section(record: ServiceRecord) -> Section:
    """Write calibrations and the statement on errors."""
    calibrations = record.calibrations
    blocks: list[Block] = []
    if calibrations.scales:
        blocks.append(
            Table(
                "Calibration of the scales",
                ("Scale", "calibrated", "at", "u of each weight", "u of one reading"),
                tuple(map(_calibration_row, calibrations.scales)),
                (0.17, 0.17, 0.30, 0.18, 0.18),
            )
        )
        blocks += [
            Words(
                f"{words.SENSORS.get(one.scale, one.scale)}, points: "
                + "; ".join(
                    f"{kg:g} kg = {count:.10g} counts"
                    for kg, count in zip(one.points_kg, one.points_count, strict=False)
                ),
                "small",
            )
            for one in calibrations.scales
        ]
    sensor = calibrations.sensor_u_C
    blocks.append(
        Facts(
            (
                ("Weights used", told(calibrations.reference)),
                ("Pan sensor checked", told(calibrations.pan_sensor_checked)),
                (
                    "Pan sensor, standard uncertainty",
                    NOT_TOLD if sensor is None else f"{sensor:g} K",
                ),
            )
        )
    )
    blocks.append(Words(words.ERROR_STATEMENT))
    return Section("What the numbers stand on", tuple(blocks))


def _calibration_row(one: CalibrationOf) -> tuple[str, ...]:
    return (
        one.scale,
        told(one.date),
        ", ".join(f"{kg:g}" for kg in one.points_kg) + " kg",
        f"{1e3 * one.u_weight_kg:g} g",
        f"{1e3 * one.repeatability_u_kg:g} g",
    )


def cautions_section() -> Section:
    """Write the cautions of the whole service."""
    items = tuple(one.text for one in CAUTIONS if one.id != "defer")
    return Section("Cautions", (Words(words.DEFER, "strong"), Points(items)))


def proof_section(record: ServiceRecord, zone: tzinfo) -> Section:
    """Write by what it was made and how a copy is checked."""
    seal = record.seal
    changed = "; ".join(
        f"{one.key} ({one.times} x, last on {date_and_time(one.last_at_s, zone)})"
        for one in seal.changed
    )
    date = date_and_time(seal.samples_dropped_at_s, zone)
    is_whole = seal.samples_dropped_at_s is None
    messages = f"{seal.messages_n}, with {seal.samples_n} samples"
    messages += "" if is_whole else ", before these were dropped"
    dropped = () if is_whole else (Words(words.SAMPLES_DROPPED.format(date=date), "warning"),)
    return Section(
        "Not for trade; how to check this record",
        (
            Words(words.NOT_FOR_TRADE, "strong"),
            Facts(
                (
                    ("Kit", f"drainscale {told(seal.kit_version)}"),
                    ("Server", f"drainscale {seal.server_version}"),
                    ("Typed in and changed later", changed or "nothing"),
                    ("Stored messages", messages),
                )
            ),
            *dropped,
            Words(f"Hash of the messages: {seal.messages_sha256}", "small"),
            Words(f"Hash of what people typed: {seal.entries_sha256}", "small"),
            Words(words.HASH_WORDS if is_whole else words.HASH_WORDS_DROPPED, "small"),
        ),
    )
