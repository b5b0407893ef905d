"""The answer of a replay for people: a few lines of plain text, litres and US quarts."""

from collections.abc import Iterator
from typing import Any

from drainscale.quantities.units import litres_to_quarts

VERDICTS = {
    "closed-in-window": "the spill was thin inside the window: level set",
    "overran": "the fluid left the window before the spill was thin: cool down, start again",
    "no-spill": "nothing ran out in the window: too little fluid, add some",
    "not-reached": "the window was not reached while the plug was open",
    "not-measured": "not measured",
}
FINDINGS = ("sensor-fault", "container-full", "will-overrun", "window-closing", "no-spill")


def summary_lines(answer: dict[str, Any]) -> Iterator[str]:
    """Write the main figures of an answer (``Result.to_dict()``), a line each."""
    drained, refill, spill, net = (answer[k] for k in ("drained", "refill", "spill", "net"))
    yield _line("drained", drained["volume_20C_L"], drained["U_volume_L"], "at 20 °C")
    for stage in drained["stages"]:
        yield f"    {stage['step']:<10} {stage['mass_kg']:8.3f} kg   {_stage_times(stage)}"
    yield _line("to refill", refill["target_volume_20C_L"], None, "drained + allowance, at 20 °C")
    yield _line("added", refill["added_volume_20C_L"], refill["U_volume_L"], "at 20 °C")
    yield _line("spilled", spill["volume_L"], spill["U_volume_L"], "at the fluid's temperature")
    yield _line("net", net["volume_20C_L"], net["U_volume_L"], "added - spilled - drained, 20 °C")
    yield f"level      {VERDICTS[answer['level']['verdict']]}"
    yield from _closing(answer["level"])
    yield from _findings(answer["events"])
    yield "U is the expanded uncertainty, k = 2 (about 95 %). Not for trade."


def _line(name: str, litres: float | None, U_L: float | None, note: str) -> str:
    if litres is None:
        return f"{name:<10} not measured"
    both = f"{litres:7.3f} L" + (f" ± {U_L:.3f} L" if U_L is not None else " " * 10)
    return f"{name:<10}{both}   {litres_to_quarts(litres):7.3f} US qt   {note}"


def _stage_times(stage: dict[str, Any]) -> str:
    dripped = stage["dripped_s"]
    end = "ended before the drip" if dripped is None else f"down to drips at {_clock(dripped)}"
    return f"flowed from {_clock(stage['started_s'])}, {end}"


def _closing(level: dict[str, Any]) -> Iterator[str]:
    flow, fluid_C = level["flow_at_close_mL_per_min"], level["temperature_at_close_C"]
    if flow is None:
        return
    at = "at a temperature not known"
    if fluid_C is not None:
        at = f"at {fluid_C:.1f} ± {level['U_temperature_C']:.1f} °C estimated fluid temperature"
    yield f"    shut cue at {flow:.0f} mL/min, {at}"


def _findings(events: list[dict[str, Any]]) -> Iterator[str]:
    for event in events:
        if event["event"] in FINDINGS:
            what = event["event"] + (f" ({event['sensor']})" if "sensor" in event else "")
            yield f"    {_clock(event['t'])}  {what}"


def _clock(t_s: float) -> str:
    minutes, seconds = divmod(round(t_s), 60)
    return f"{minutes:d}:{seconds:02d}"
