"""Sections on what was done, and when: times, gates, washers and torques, what was not weighed."""

from drainscale.quantities.units import newton_metres_to_pound_feet
from drainscale_server.record import wording as words
from drainscale_server.record.blocks import Block, Facts, Points, Section, Table, Words
from drainscale_server.record.figures import (
    NOT_MEASURED,
    NOT_TOLD,
    clock,
    litres,
    number,
    quarts,
    told,
)
from drainscale_server.record.model import GateLine, ServiceRecord, Stage, UsedOil


def times_section(record: ServiceRecord) -> Section:
    """Write stages, steps and cues with their times."""
    blocks: list[Block] = []
    if record.volumes.stages:
        blocks.append(
            Table(
                "Stages of the drain",
                ("Stage", "mass", "as it ran", "US qt", "began", "down to drips"),
                tuple(map(_stage_row, record.volumes.stages)),
                (0.16, 0.15, 0.17, 0.20, 0.14, 0.18),
                frozenset({1, 2, 3, 4, 5}),
            )
        )
    if record.steps:
        blocks.append(
            Table(
                "Steps, by their numbers in the plots",
                ("Step", "name", "began", "took"),
                tuple(
                    (str(n), one.step, clock(one.started_s), clock(one.lasted_s))
                    for n, one in enumerate(record.steps, start=1)
                ),
                (0.12, 0.40, 0.24, 0.24),
                frozenset({2, 3}),
            )
        )
    if record.cues:
        blocks.append(
            Table(
                "Cues: what the technician was told",
                ("Time", "cue", "what it said"),
                tuple((clock(one.t), one.cue, one.text) for one in record.cues),
                (0.12, 0.16, 0.72),
            )
        )
    return Section("Times", tuple(blocks))


def _stage_row(stage: Stage) -> tuple[str, ...]:
    dripped = "ended before" if stage.dripped_s is None else clock(stage.dripped_s)
    mass = number(stage.mass_kg, "kg", 4)
    return (
        stage.step,
        mass,
        litres(stage.as_it_ran),
        quarts(stage.as_it_ran),
        clock(stage.started_s),
        dripped,
    )


def work_section(record: ServiceRecord) -> Section:
    """Write gates, washers, torques and the used oil."""
    blocks: list[Block] = []
    if record.work.gates:
        blocks.append(
            Table(
                "Gates: what had to be so before the service went on",
                ("What was asked", "before", "how it stood", "by", "passed"),
                tuple(map(_gate_row, record.work.gates)),
                (0.40, 0.20, 0.20, 0.11, 0.09),
            )
        )
    washers, torques = record.work.washers_renewed, record.work.torques
    blocks.append(
        Facts(
            (
                ("Sealing washers renewed", _joined(washers)),
                (
                    "Torques, as typed in",
                    _joined(
                        None
                        if torques is None
                        else [f"{one.part}: {_torque(one.torque_Nm)}" for one in torques]
                    ),
                ),
                ("Used oil", _used_oil(record.used_oil)),
                ("Its container", told(record.used_oil.container)),
                ("Line of the used-oil log", told(record.used_oil.log_line)),
            )
        )
    )
    return Section("What people said they did", tuple(blocks))


def _gate_row(line: GateLine) -> tuple[str, ...]:
    how = line.outcome if line.answer is None else f"{line.outcome}: {line.answer}"
    at = "–" if line.t is None else clock(line.t)
    by = "–" if line.by is None else words.BY.get(line.by, line.by)
    return line.ask, line.moment.removeprefix("before "), how, by, at


def _torque(torque_Nm: float) -> str:
    return f"{torque_Nm:g} N·m ({newton_metres_to_pound_feet(torque_Nm):.1f} lbf·ft)"


def _joined(items: list[str] | None) -> str:
    if items is None:
        return NOT_TOLD
    return "; ".join(items) or "none"


def _used_oil(used: UsedOil) -> str:
    if used.volume_L is None:
        return NOT_MEASURED
    origin = "as typed in" if used.is_typed else "drained and spilled, at 20 °C"
    return f"{used.volume_L:.3f} L, {origin}"


def not_weighed_section(record: ServiceRecord) -> Section:
    """Write what the figures do not hold."""
    left = record.not_weighed
    items = [words.PAN_FILTER.get(left.pan_filter or "", words.PAN_FILTER_UNKNOWN)]
    if left.pan_filter_kg is not None:
        items.append(f"Oil in pan and filter, weighed apart: {left.pan_filter_kg:.3f} kg.")
    items.append(words.DRIPS if left.drips is None else f"{words.DRIPS} Told: {left.drips}")
    if left.typed_in_L is not None:
        items.append(
            f"{left.typed_in_L:.3f} L of what was added was typed in, not weighed "
            "(standard uncertainty 0.05 L each time)."
        )
    if left.unweighed_u_L is not None:
        items.append(
            "In the drained figure is fluid that no reading shows (a container moved, or fluid "
            f"fallen beside); its standard uncertainty is {1e3 * left.unweighed_u_L:.1f} mL."
        )
    return Section("What was not weighed", (Points(tuple(items)),))


def trouble_words(disturbed_n: int) -> Words:
    """Write how often the platform was disturbed."""
    if not disturbed_n:
        return Words("No knock, touch or moved container was seen in the readings.")
    times = "once" if disturbed_n == 1 else f"{disturbed_n} times"
    return Words(f"Knocks, touches or moved containers were kept out of the weighing {times}.")
