"""The truth of a run in the form of `NAME.truth.json`, by which `drainscale score` judges."""

from copy import deepcopy
from dataclasses import asdict, dataclass
from math import hypot
from typing import Any

from drainscale_sim.bay.bay import Bay
from drainscale_sim.bay.ledger import Grid, StageTruth
from drainscale_sim.bay.setup import Setup
from drainscale_sim.bay.vehicle import Vehicle

Json = dict[str, Any]
NOTHING_M3 = 10e-6  # what stood in the plug is no spill
AHEAD_S = 7200
FINE_S = 0.05
FOR_GOOD_S = 120


@dataclass
class Ahead:
    """What would have been, had the plug stayed open and the engine on."""

    fluid_C: list[float]
    flow_mL_per_min: list[float]


def look_ahead(vehicle: Vehicle, high_C: float, limit_mL_per_min: float) -> Ahead:
    """Run a copy of the unit on, second by second, until window and spill are over."""
    unit, ahead, calm_s = deepcopy(vehicle), Ahead([], []), 0
    unit.engine_on = True
    for _ in range(AHEAD_S):
        volume_m3 = 0.0
        for _ in range(int(1.0 / FINE_S)):
            unit.step(FINE_S)
            volume_m3 += unit.flow_kg_per_s * FINE_S / unit.density_kg_per_m3
        ahead.fluid_C.append(unit.heat.fluid_C)
        ahead.flow_mL_per_min.append(volume_m3 * 60e6)
        calm_s = calm_s + 1 if volume_m3 * 60e6 < limit_mL_per_min else 0
        if unit.heat.fluid_C > high_C and calm_s > FOR_GOOD_S:
            break
    return ahead


def truth_of(
    name: str, bay: Bay, grid: Grid, duration_s: float, marks: list[tuple[float, str]]
) -> Json:
    """Write the truth of a run that is over.

    Raises:
        ValueError: The level plug was never opened: there is nothing to judge.
    """
    setup, ledger = bay.setup, bay.ledger
    if not ledger.spills or not ledger.stages or bay.left_open is None:
        raise ValueError(f"{name}: the service was not finished, no truth to judge by")
    times = _times(bay, grid)
    rho20 = setup.fluid.density_kg_per_m3(20.0) / 1000.0
    net_L = (ledger.added_kg - ledger.spilled_kg - ledger.drained_kg) / rho20
    return {
        "name": name,
        "family": setup.name,
        "tags": [
            setup.name,
            {"all": "marked", "some": "some-marks", "none": "no-marks"}[setup.marks],
        ],
        "rate_Hz": setup.scale.rate_Hz,
        "duration_s": round(duration_s, 3),
        "outcome": _outcome(ledger.spills[-1], times, setup.limits.window_C[0], grid),
        "drained": _drained(bay, grid, rho20),
        "start_L": setup.bench.start_L,
        "container_capacity_L": setup.bench.container_L,
        "refill": _refill(bay, rho20),
        "spill": {
            "mass_kg": ledger.spilled_kg,
            "volume_L": ledger.spilled_m3 * 1000.0,
            "volume_20C_L": ledger.spilled_kg / rho20,
        },
        "net": {"volume_20C_L": net_L},
        "times": times,
        "steps": _steps(ledger.steps),
        "marks": [list(mark) for mark in marks],
        "references": [],
        "placed_s": ledger.placed_s,
        "lifted_s": ledger.lifted_s,
        "disturbances": _disturbances(bay),
        "faults": _faults(setup),
        "limits": _limits(setup),
        "grid": {
            "dt_s": 1.0,
            # the grid's first line is at 0: what ran in the second that ends there is nothing
            "fluid_C": [round(c, 4) for c in grid.fluid_C[:1] + grid.fluid_C],
            "flow_mL_per_min": [0.0] + [round(q, 3) for q in grid.flow_mL_per_min],
            "excess_mL": [None] + [e if e is None else round(e, 3) for e in grid.excess_mL],
        },
        "parameters": asdict(setup),
    }


def _drained(bay: Bay, grid: Grid, rho20_kg_per_L: float) -> Json:
    stages = [_stage(s, bay, grid, rho20_kg_per_L) for s in bay.ledger.stages]
    mass_kg = bay.ledger.drained_kg
    return {
        "mass_kg": mass_kg,
        "volume_L": sum(s["volume_L"] for s in stages),
        "volume_20C_L": mass_kg / rho20_kg_per_L,
        "unweighed_mass_kg": bay.ledger.beside_in_drain_kg,
        "stages": stages,
    }


def _stage(stage: StageTruth, bay: Bay, grid: Grid, rho20_kg_per_L: float) -> Json:
    ended_s = stage.ended_s if stage.ended_s is not None else float(grid.seconds)
    drip = bay.setup.limits.drip_flow_mL_per_min
    return {
        "step": stage.step,
        "mass_kg": stage.mass_kg,
        "volume_L": stage.volume_m3 * 1000.0,
        "volume_20C_L": stage.mass_kg / rho20_kg_per_L,
        "temperature_C": stage.fluid_C,
        "started_s": stage.started_s,
        "dripped_s": below_for_good_s(grid.flow_mL_per_min, drip, stage.started_s, ended_s),
        "ended_s": ended_s,
    }


def below_for_good_s(
    flow_mL_per_min: list[float], limit_mL_per_min: float, start_s: float, end_s: float
) -> float | None:
    """Find when a flow that was above a limit falls below it for good.

    Args:
        flow_mL_per_min: Means of the seconds that end at 1, 2, 3, ... s.
        limit_mL_per_min: The limit.
        start_s: Where to begin.
        end_s: Where to end.

    Returns:
        The time, s, between the middles of the two seconds on both sides of it; None if the flow
        was never above the limit, or still is at the end.
    """
    first, last = int(start_s) + 1, min(int(end_s), len(flow_mL_per_min)) - 1
    above = [k for k in range(first, last + 1) if flow_mL_per_min[k] >= limit_mL_per_min]
    if not above or above[-1] >= last:
        return None
    k = above[-1]
    a, b = flow_mL_per_min[k], flow_mL_per_min[k + 1]
    return k + 0.5 + (a - limit_mL_per_min) / (a - b)


def _crossed_s(fluid_C: list[float], limit_C: float, from_s: float) -> float:
    """When a temperature that rises crosses a limit; values stand at 1, 2, 3, ... s."""
    for k in range(max(int(from_s), 1), len(fluid_C)):
        a, b = fluid_C[k - 1], fluid_C[k]
        if a < limit_C <= b:
            return k + (limit_C - a) / (b - a)
    return 0.0 if fluid_C[0] >= limit_C else float(len(fluid_C))


def _times(bay: Bay, grid: Grid) -> Json:
    ledger, limits = bay.ledger, bay.setup.limits
    spill = ledger.spills[-1]
    opened_s = spill.started_s
    shut_s = spill.ended_s if spill.ended_s is not None else float(grid.seconds)
    low_C, high_C = limits.window_C
    assert bay.left_open is not None
    ahead = look_ahead(bay.left_open, high_C, limits.close_flow_mL_per_min)
    known = int(shut_s)
    fluid_C = grid.fluid_C[:known] + ahead.fluid_C
    flow = grid.flow_mL_per_min[:known] + ahead.flow_mL_per_min
    started_s = _last_start_s(bay, opened_s)
    thin_s = below_for_good_s(flow, limits.close_flow_mL_per_min, opened_s, len(flow))
    return {
        "window_opens_s": _crossed_s(fluid_C, low_C, started_s),
        "window_closes_s": _crossed_s(fluid_C, high_C, started_s),
        "plug_opened_s": opened_s,
        "plug_shut_s": shut_s,
        "spill_below_close_limit_s": thin_s,
        "spill_below_close_in_recording": thin_s is not None and thin_s < shut_s,
        "container_full_s": ledger.container_full_s,
        "engine_on_s": ledger.engine_on_s,
    }


def _last_start_s(bay: Bay, opened_s: float) -> float:
    """Where the warm-up of the last attempt begins."""
    before = [t for t, step in bay.ledger.steps if step in ("warm", "circulate") and t < opened_s]
    return before[-1] if len(bay.ledger.spills) > 1 and before else bay.ledger.engine_on_s or 0.0


def _outcome(spill: StageTruth, times: Json, low_C: float, grid: Grid) -> str:
    shut_s, closes_s = times["plug_shut_s"], times["window_closes_s"]
    if grid.fluid_C[min(int(shut_s), grid.seconds) - 1] < low_C:
        return "not-reached"
    if spill.volume_m3 < NOTHING_M3:
        return "no-spill"
    thin_s = times["spill_below_close_limit_s"]
    if thin_s is None:  # seen, but never above the limit: thin after ten seconds
        thin_s = times["plug_opened_s"] + 10.0
    thin_s = max(thin_s, times["window_opens_s"])
    return "closed-in-window" if thin_s <= closes_s else "overran"


def _refill(bay: Bay, rho20_kg_per_L: float) -> Json:
    ledger = bay.ledger
    firsts = [jug.first for jug in ledger.jugs if jug.first is not None]
    lasts = [jug.last for jug in ledger.jugs if jug.last is not None]
    return {
        "target_volume_20C_L": bay.target_kg / rho20_kg_per_L,
        "target_mass_kg": bay.target_kg,
        "added_mass_kg": ledger.added_kg,
        "added_volume_20C_L": ledger.added_kg / rho20_kg_per_L,
        "pump_start_s": min(firsts, default=None),
        "pump_end_s": max(lasts, default=None),
        "reached_s": ledger.reached_s,
        "containers": len(ledger.jugs),
        "jugs": [asdict(jug) for jug in ledger.jugs],
    }


def _steps(steps: list[tuple[float, str]]) -> dict[str, float]:
    """First times, but of the last attempt where a step was repeated at the level check."""
    told: dict[str, float] = {}
    for t, step in steps:
        if step in ("level", "seal"):
            told[step] = t
        else:
            told.setdefault(step, t)
    return told


def _disturbances(bay: Bay) -> list[list[Any]]:
    setup = bay.setup
    # behind the converter's filter vibration is some four tenths of itself
    noise_kg = hypot(setup.scale.noise_kg, 0.4 * setup.bench.vibration_kg)
    shows_kg = max(0.003, 5.0 * noise_kg)
    return [
        [round(d.start_s, 3), round(d.end_s, 3), d.kind, d.peak_kg > shows_kg]
        for d in bay.ledger.disturbances
    ]


def _faults(setup: Setup) -> list[Json]:
    listed = []
    for sensor, spans in (
        ("scale", setup.faults.drain),
        ("supply", setup.faults.supply),
        ("pan", setup.faults.pan),
    ):
        for start, end, kind in spans:
            told = "dropout" if kind == "silent" else kind
            listed.append({"sensor": sensor, "kind": told, "start_s": start, "end_s": end})
    return sorted(listed, key=lambda fault: float(str(fault["start_s"])))


def _limits(setup: Setup) -> Json:
    limits = setup.limits
    return {
        "window_C": list(limits.window_C),
        "close_flow_mL_per_min": limits.close_flow_mL_per_min,
        "drip_flow_mL_per_min": limits.drip_flow_mL_per_min,
        "approach_K": limits.approach_K,
    }
