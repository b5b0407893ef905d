"""Make one run from a scenario's file and a seed."""

import tomllib
from dataclasses import fields
from importlib.resources import files
from random import Random
from typing import Any, cast

from drainscale.quantities.job import FluidSheet, PanSensor, ProcedureLimits, ScaleSettings
from drainscale_sim.bay.fluid import Fluid
from drainscale_sim.bay.heat import HeatSetup, Kick
from drainscale_sim.bay.sensors import ClampSetup, Faults, ScaleSetup
from drainscale_sim.bay.setup import Bench, Range, Setup, Work
from drainscale_sim.bay.vehicle import VehicleSetup
from drainscale_sim.bench_world import PanFault, ScaleFault

Table = dict[str, Any]  # as TOML gives it
PAN_KINDS = ("open", "short-to-ground", "short-to-supply", "silent")
SCALE_KINDS = ("silent", "stuck")


def scenario_names() -> tuple[str, ...]:
    """Name all scenarios, in alphabetical order."""
    here = files("drainscale_sim.scenarios")
    names = (f.name.removesuffix(".toml") for f in here.iterdir() if f.name.endswith(".toml"))
    return tuple(sorted(name for name in names if name != "base"))


def draw(name: str, seed: int) -> Setup:
    """Draw every number of a run.

    Raises:
        ValueError: No such scenario, or its file says what `base.toml` does not know.
    """
    return draw_from(name, read_scenario(name), seed)


def read_scenario(name: str) -> Table:
    """Read a scenario's file over the base.

    Raises:
        ValueError: As `draw`.
    """
    if name not in scenario_names():
        raise ValueError(f"no scenario {name!r}; there are {', '.join(scenario_names())}")
    return overlaid(_read("base"), _read(name), name)


def _read(name: str) -> Table:
    text = files("drainscale_sim.scenarios").joinpath(f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def overlaid(base: Table, over: Table, where: str) -> Table:
    """Lay one table over another; a key that the base lacks is an error.

    Raises:
        ValueError: Names the key.
    """
    laid = dict(base)
    for key, value in over.items():
        if key == "faults":
            laid[key] = value
        elif key not in base:
            raise ValueError(f"{where}: unknown key {key!r}")
        elif isinstance(value, dict) and isinstance(base[key], dict) and "low" not in value:
            laid[key] = overlaid(base[key], value, f"{where}.{key}")
        else:
            laid[key] = value
    return laid


class _Dice:
    """Draws the numbers of one table; each hangs on its own name, not on its place."""

    def __init__(self, run: str, section: str, table: Table) -> None:
        self._run, self._section, self._table = run, section, table

    def number(self, key: str) -> float:
        value = self._table[key]
        if isinstance(value, list):
            low, high = value
            return Random(f"{self._run} {self._section} {key}").uniform(low, high)
        return float(value)

    def span(self, key: str) -> Range:
        value = self._table[key]
        return float(value["low"]), float(value["high"])

    def word(self, key: str) -> str:
        return str(self._table[key])

    def error(self, key: str) -> float:
        """Draw from the standard normal distribution, cut at 2.5."""
        return max(min(Random(f"{self._run} {self._section} {key} err").gauss(), 2.5), -2.5)

    def fill(self, kind: type[Any], *left_out: str) -> Table:
        """Draw what a record of this kind asks for and the table has."""
        names = [f.name for f in fields(kind) if f.name not in left_out]
        return {n: self.number(n) for n in names if _is_drawn(self._table.get(n))}


def _is_drawn(value: object) -> bool:
    return isinstance(value, int | float | list) and not isinstance(value, bool)


def draw_from(name: str, table: Table, seed: int) -> Setup:
    """Draw a run from a scenario that is read already."""
    run = f"{name} {seed}"
    dice = {k: _Dice(run, k, v) for k, v in table.items() if isinstance(v, dict)}
    fluid = _fluid(dice["fluid"])
    scale, scale_job = _scale(dice["scale"])
    clamp, pan_job = _clamp(dice["clamp"])
    bench = dice["bench"]
    has_supply = bool(table["bench"]["has_supply_scale"])
    heat = _heat(dice["heat"])
    return Setup(
        name=name,
        seed=seed,
        make=table["make"],
        about=table["about"],
        limits=_limits(dice["procedure"]),
        fluid=fluid,
        sheet=_sheet(dice["fluid"], fluid),
        vehicle=_vehicle(dice["vehicle"], dice["procedure"].word("level_method")),
        heat=heat,
        scale=scale,
        scale_job=scale_job,
        supply_job=scale_job if has_supply else None,
        clamp=clamp,
        pan_job=pan_job,
        bench=Bench(
            **_whole(bench.fill(Bench), "lifts_in_drain", "swaps_in_drain"),
            knock_kg=bench.span("knock_kg"),
            has_supply_scale=has_supply,
        ),
        work=_work(dice["work"]),
        faults=_faults(run, table.get("faults", [])),
        marks=table["marks"],
        added_C=heat.air_C,
    )


def _whole(drawn: Table, *keys: str) -> Table:
    return {**drawn, **{key: int(drawn[key]) for key in keys}}


def _limits(dice: _Dice) -> ProcedureLimits:
    drawn = dice.fill(ProcedureLimits)
    drawn["drip_flow_mL_per_min"] = round(drawn["drip_flow_mL_per_min"], 1)
    drawn["allowance_L"] = round(drawn["allowance_L"], 2)
    method, fill_via = dice.word("level_method"), dice.word("fill_via")
    if method not in ("standpipe", "check-plug") or fill_via not in ("fill-plug", "check-plug"):
        raise ValueError(f"level_method {method!r} or fill_via {fill_via!r} is none")
    return ProcedureLimits(
        level_method="standpipe" if method == "standpipe" else "check-plug",
        fill_via="fill-plug" if fill_via == "fill-plug" else "check-plug",
        window_C=dice.span("window_C"),
        **drawn,
    )


def _fluid(dice: _Dice) -> Fluid:
    thick = dice.number("viscosity_40C_mm2_per_s")
    return Fluid(
        rho15_kg_per_m3=dice.number("density_15C_kg_per_m3"),
        nu40_mm2_per_s=thick,
        nu100_mm2_per_s=thick / dice.number("viscosity_ratio"),
        stretch=dice.number("stretch"),
    )


def _sheet(dice: _Dice, fluid: Fluid) -> FluidSheet:
    u = round(dice.number("sheet_u_kg_per_m3"), 1)
    told = round(fluid.rho15_kg_per_m3 + u * dice.error("density"), 1)
    if Random(f"{told} {u}").random() > dice.number("sheet_has_viscosity"):
        return FluidSheet(told, 15.0, u)
    # sheets round, and batches differ by some per cent
    thick = round(fluid.nu40_mm2_per_s * (1.0 + 0.02 * dice.error("nu40")), 1)
    thin = round(fluid.nu100_mm2_per_s * (1.0 + 0.02 * dice.error("nu100")), 2)
    return FluidSheet(told, 15.0, u, thick, thin)


def _vehicle(dice: _Dice, method: str) -> VehicleSetup:
    drawn = dice.fill(VehicleSetup)
    stop_L = drawn["hold_run_L"] - dice.number("hold_back_L")
    return VehicleSetup(has_standpipe=method == "standpipe", hold_stop_L=stop_L, **drawn)


def _heat(dice: _Dice) -> HeatSetup:
    drawn = dice.fill(HeatSetup, "kicks")
    kicks, at = [], 0.0
    for turn in range(int(dice.number("kicks"))):
        at += dice.number("kick_after_s") * (0.7 + 0.6 * turn)
        lasts = dice.number("kick_lasts_s")
        kicks.append(Kick(at, lasts, dice.number("kick_warming")))
        at += lasts
    start_C = drawn["air_C"] + dice.number("start_K")
    return HeatSetup(start_C=start_C, kicks=tuple(kicks), **drawn)


def _scale(dice: _Dice) -> tuple[ScaleSetup, ScaleSettings]:
    setup = ScaleSetup(**dice.fill(ScaleSetup))
    u_kg = round(dice.number("weights_u_kg"), 4)
    weights = [0.0, 5.0, 10.0][: int(dice.number("calibration_points"))]
    counts = []
    for place, weight in enumerate(weights):
        off_kg = u_kg * dice.error(f"weight {place}") if weight else 0.0
        counts.append(round(setup.ideal_counts(weight + off_kg), 1))
    job = ScaleSettings(
        capacity_kg=setup.capacity_kg,
        rate_Hz=setup.rate_Hz,
        calibration_kg=tuple(weights),
        calibration_counts=tuple(counts),
        calibration_u_kg=u_kg,
        repeatability_u_kg=round(dice.number("repeatability_u_kg"), 4),
    )
    return setup, job


def _clamp(dice: _Dice) -> tuple[ClampSetup, PanSensor]:
    told, u_ratio = round(dice.number("ratio_told"), 2), round(dice.number("ratio_u"), 2)
    lag, u_lag = round(dice.number("lag_told_s")), round(dice.number("sensor_u_K"), 1)
    lag_u_s = round(lag * dice.number("lag_u_share"), 1)
    job = PanSensor(told, u_ratio, float(lag), lag_u_s, u_lag)
    true = ClampSetup(
        ratio=min(told + u_ratio * dice.error("ratio"), 1.0),
        lag_s=max(lag + lag_u_s * dice.error("lag"), 3.0),
        bias_K=job.sensor_u_C * dice.error("bias"),
        noise_K=dice.number("noise_K"),
        board_K=dice.number("board_K"),
    )
    return true, job


def _work(dice: _Dice) -> Work:
    spans = {f.name: dice.span(f.name) for f in fields(Work) if f.name != "most_open_s"}
    return Work(**spans, most_open_s=dice.number("most_open_s"))


def _faults(run: str, listed: list[Table]) -> Faults:
    spans: dict[str, list[tuple[float, float, Any]]] = {"drain": [], "supply": [], "pan": []}
    for place, one in enumerate(listed):
        dice = _Dice(run, f"fault {place}", one)
        sensor, kind = dice.word("sensor"), dice.word("kind")
        if kind not in (PAN_KINDS if sensor == "pan" else SCALE_KINDS) or sensor not in spans:
            raise ValueError(f"fault {place + 1}: no sensor {sensor!r} fails by {kind!r}")
        start = dice.number("at_s")
        spans[sensor].append((start, start + dice.number("lasts_s"), kind))
    return Faults(
        drain=cast(tuple[tuple[float, float, ScaleFault], ...], tuple(spans["drain"])),
        supply=cast(tuple[tuple[float, float, ScaleFault], ...], tuple(spans["supply"])),
        pan=cast(tuple[tuple[float, float, PanFault], ...], tuple(spans["pan"])),
    )
