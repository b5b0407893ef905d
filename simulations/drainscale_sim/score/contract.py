"""Check the form of a replay's answer: every key there, every value of its kind.

This says nothing about how right the numbers are.
"""

from collections.abc import Callable, Iterator, Mapping

from drainscale.quantities.samples import STEP_NAMES
from drainscale_sim.score.answer import as_interval, as_number

NUMBERS: Mapping[str, tuple[str, ...]] = {
    "drained": ("mass_kg", "volume_L", "volume_20C_L", "U_volume_L"),
    "refill": (
        "target_volume_20C_L",
        "target_mass_kg",
        "added_mass_kg",
        "added_volume_20C_L",
        "U_volume_L",
    ),
    "spill": ("mass_kg", "volume_L", "U_volume_L"),
    "net": ("volume_20C_L", "U_volume_L"),
    "level": (
        "flow_at_close_mL_per_min",
        "temperature_at_close_C",
        "U_temperature_C",
        "excess_left_mL",
    ),
}
STAGE_NUMBERS = ("mass_kg", "volume_L", "started_s", "dripped_s")
FORECAST_NUMBERS = (
    "fluid_C",
    "U_fluid_C",
    "opens_s",
    "closes_s",
    "finishes_s",
    "p_finish_in_window",
)
FORECAST_INTERVALS = ("opens_90", "closes_90")
VERDICTS = frozenset({"closed-in-window", "overran", "no-spill", "not-reached", "not-measured"})
EVENTS = frozenset(
    {
        "placed",
        "lifted",
        "flow-started",
        "dripped",
        "refill-reached",
        "window-near",
        "open-plug",
        "close-plug",
        "no-spill",
        "will-overrun",
        "window-closing",
        "container-full",
        "sensor-fault",
        "sensor-restored",
        "disturbed",
    }
)
SENSORS = frozenset({"scale", "supply", "pan"})

Complaints = Iterator[str]
RecordCheck = Callable[[str, Mapping[str, object]], Complaints]


def complaints(answer: object) -> list[str]:
    """List what is wrong with the form of an answer; empty: nothing.

    Args:
        answer: The decoded JSON of ``drainscale replay``.
    """
    if not isinstance(answer, dict):
        return ["is not a JSON object"]
    return list(_check(answer))


def _check(answer: Mapping[str, object]) -> Complaints:
    if answer.get("format") != 1:
        yield f"format: {answer.get('format')!r} is not 1"
    for part, keys in NUMBERS.items():
        section = answer.get(part)
        if isinstance(section, dict):
            yield from _numbers(part, section, keys)
        else:
            yield f"{part}: no object"
    yield from _level(answer.get("level"))
    drained = answer.get("drained")
    stages = drained.get("stages") if isinstance(drained, dict) else None
    yield from _list("drained.stages", stages, _stage)
    yield from _list("steps", answer.get("steps"), _step, "started_s")
    yield from _list("events", answer.get("events"), _event, "t")
    yield from _list("forecasts", answer.get("forecasts"), _forecast, "t")


def _numbers(where: str, section: Mapping[str, object], keys: tuple[str, ...]) -> Complaints:
    """Each key is there and holds a finite number or null."""
    for key in keys:
        if key not in section:
            yield f"{where}.{key}: missing"
        elif section[key] is not None and as_number(section[key]) is None:
            yield f"{where}.{key}: {section[key]!r} is neither a number nor null"


def _level(level: object) -> Complaints:
    if isinstance(level, dict) and level.get("verdict") not in VERDICTS:
        yield f"level.verdict: {level.get('verdict')!r} is not a verdict"


def _list(where: str, records: object, check: RecordCheck, time_key: str = "") -> Complaints:
    """Each record is an object that passes ``check``, in the order of its time."""
    if not isinstance(records, list):
        yield f"{where}: no list"
        return
    last = float("-inf")
    for index, record in enumerate(records):
        place = f"{where}[{index}]"
        if not isinstance(record, dict):
            yield f"{place}: no object"
            continue
        yield from check(place, record)
        if time_key:
            t = as_number(record.get(time_key))
            yield from _time(f"{place}.{time_key}", t, last)
            last = last if t is None else max(last, t)


def _time(where: str, t: float | None, last: float) -> Complaints:
    if t is None:
        yield f"{where}: no time"
    elif t < last:
        yield f"{where}: {t} s comes after {last} s"
    elif abs(t - round(t, 3)) > 1e-9:
        yield f"{where}: {t} s is not told to 1 ms"


def _stage(where: str, stage: Mapping[str, object]) -> Complaints:
    if stage.get("step") not in STEP_NAMES:
        yield f"{where}.step: {stage.get('step')!r} is not a step"
    yield from _numbers(where, stage, STAGE_NUMBERS)


def _step(where: str, step: Mapping[str, object]) -> Complaints:
    if step.get("step") not in STEP_NAMES:
        yield f"{where}.step: {step.get('step')!r} is not a step"


def _event(where: str, event: Mapping[str, object]) -> Complaints:
    if event.get("event") not in EVENTS:
        yield f"{where}.event: {event.get('event')!r} is not an event"
    if "step" not in event:
        yield f"{where}.step: missing"
    elif event["step"] is not None and event["step"] not in STEP_NAMES:
        yield f"{where}.step: {event['step']!r} is not a step"
    if str(event.get("event")).startswith("sensor-") and event.get("sensor") not in SENSORS:
        yield f"{where}.sensor: {event.get('sensor')!r} is not a sensor"


def _forecast(where: str, forecast: Mapping[str, object]) -> Complaints:
    yield from _numbers(where, forecast, FORECAST_NUMBERS)
    for key in FORECAST_INTERVALS:
        if key not in forecast:
            yield f"{where}.{key}: missing"
        elif forecast[key] is not None:
            interval = as_interval(forecast[key])
            if interval is None or interval[0] > interval[1]:
                yield f"{where}.{key}: {forecast[key]!r} is neither null nor two rising numbers"
