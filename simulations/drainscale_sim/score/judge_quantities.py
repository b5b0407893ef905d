"""Compare masses, volumes, their uncertainties and the drain stages with the truth."""

from drainscale_sim.score.answer import Answer, as_number
from drainscale_sim.score.matching import nearest
from drainscale_sim.score.tally import Tally
from drainscale_sim.score.truth import Stage, Truth

PER_KILO = 1000.0  # kg to g, L to mL
START_FITS_S = 20.0  # a flow-started this near a stage's start is taken for its own
DRIPPED_FITS_S = 30.0  # ... and a dripped this long after the stage


def judge_quantities(answer: Answer, truth: Truth, tally: Tally) -> None:
    """Compare every measured amount of one recording."""
    _drained(answer, truth, tally)
    for stage in truth.drained.stages:
        _stage(answer, truth, stage, tally)
    _refill(answer, truth, tally)
    if truth.outcome != "no-spill":
        spilled = answer.number("spill", "volume_L")
        compare(tally, "spill_mL", spilled, truth.spill.volume_L, PER_KILO)
        cover(tally, "spill_mL", answer, ("spill", "volume_L"), truth.spill.volume_L)
    net = answer.number("net", "volume_20C_L")
    compare(tally, "net_mL", net, truth.net.volume_20C_L, PER_KILO)
    cover(tally, "net_mL", answer, ("net", "volume_20C_L"), truth.net.volume_20C_L)


def compare(tally: Tally, name: str, measured: float | None, true: float, scale: float) -> None:
    """Add one measured value's error, in true units times ``scale``, or its absence."""
    tally.count(f"{name}.null", measured is None)
    if measured is not None:
        tally.add(f"{name}.error", (measured - true) * scale)
        tally.add(f"{name}.abs_error", abs(measured - true) * scale)


def cover(tally: Tally, name: str, answer: Answer, key: tuple[str, str], true: float) -> None:
    """Count whether a volume's own U (k = 2) reaches the truth; no U does not."""
    measured, expanded = answer.number(*key), answer.number(key[0], "U_volume_L")
    if measured is None:
        return
    tally.count(f"{name}.within_U", expanded is not None and abs(measured - true) <= expanded)
    if expanded is not None:
        tally.add(f"{name}.U", expanded * PER_KILO)


def _drained(answer: Answer, truth: Truth, tally: Tally) -> None:
    drained = truth.drained
    for name, key, true in (
        ("drained_mL", "volume_L", drained.volume_L),
        ("drained_20C_mL", "volume_20C_L", drained.volume_20C_L),
    ):
        compare(tally, name, answer.number("drained", key), true, PER_KILO)
        cover(tally, name, answer, ("drained", key), true)
    mass_kg = answer.number("drained", "mass_kg")
    compare(tally, "drained_g", mass_kg, drained.mass_kg, PER_KILO)


def _stage(answer: Answer, truth: Truth, stage: Stage, tally: Tally) -> None:
    seen = answer.stage(stage.step)
    compare(tally, "stage_g", as_number(seen.get("mass_kg")), stage.mass_kg, PER_KILO)
    started_s = as_number(seen.get("started_s"))
    if started_s is not None:
        tally.add("stage_start_s.error", started_s - stage.started_s)
    started = nearest(answer.times("flow-started"), stage.started_s, START_FITS_S)
    tally.count("flow_started.missed", started is None)
    if started is not None:
        tally.add("flow_started.delay_s", started - stage.started_s)
    _dripped(answer, truth, stage, as_number(seen.get("dripped_s")), tally)


def _dripped(
    answer: Answer, truth: Truth, stage: Stage, dripped_s: float | None, tally: Tally
) -> None:
    if stage.dripped_s is None:
        tally.count("drip.false", dripped_s is not None and dripped_s < stage.ended_s)
        return
    tally.count("drip.missed", dripped_s is None)
    if dripped_s is not None:
        tally.add("drip_s.error", dripped_s - stage.dripped_s)
        tally.add("drip_s.abs_error", abs(dripped_s - stage.dripped_s))
    until_s = stage.ended_s + DRIPPED_FITS_S
    told = [t for t in answer.times("dripped") if stage.started_s < t <= until_s]
    tally.count("dripped.missed", not told)
    if told:
        flow = truth.flow_mL_per_min(min(told[0], stage.ended_s - 1.0))
        tally.add("dripped.flow_to_limit", flow / truth.limits.drip_flow_mL_per_min)


def _refill(answer: Answer, truth: Truth, tally: Tally) -> None:
    refill = truth.refill
    added_L = answer.number("refill", "added_volume_20C_L")
    compare(tally, "added_mL", added_L, refill.added_volume_20C_L, PER_KILO)
    cover(tally, "added_mL", answer, ("refill", "added_volume_20C_L"), refill.added_volume_20C_L)
    added_kg = answer.number("refill", "added_mass_kg")
    compare(tally, "added_g", added_kg, refill.added_mass_kg, PER_KILO)
    target_L = answer.number("refill", "target_volume_20C_L")
    compare(tally, "target_mL", target_L, refill.target_volume_20C_L, PER_KILO)
