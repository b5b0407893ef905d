"""The answer of one service: volumes with their budget, level, steps, events, forecasts."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from drainscale.core.level_check import LevelCheck, Verdict
from drainscale.core.story import Story, stage_fluid
from drainscale.core.weighing import Jug, Stage, Weighing
from drainscale.quantities.calibration import Calibration
from drainscale.quantities.measured import Measured
from drainscale.quantities.result_quantities import Amount, ResultQuantities

FORMAT = 1
# a pump set in or taken out is a difference of two readings seconds apart
U_EXCLUDED_KG = 0.0002


@dataclass(slots=True)
class Result:
    """Everything that one service answers; ``None`` where it could not be measured."""

    drained: Amount | None
    stages: list[tuple[Stage, Amount]]
    refill: Amount | None
    target_20C_L: float | None
    target_kg: float | None
    spill: Amount | None
    net: Amount | None
    check: LevelCheck | None
    story: Story
    forecasts: Sequence[Any] = field(default_factory=tuple)

    def to_dict(self) -> dict[str, Any]:
        """The answer in the contract's form (format 1)."""
        return {
            "format": FORMAT,
            "drained": self._drained(),
            "refill": self._refill(),
            "spill": self._spill(),
            "net": self._net(),
            "level": self._level(),
            "gaps": [[round(t0, 3), round(t1, 3)] for t0, t1 in self.story.gaps],
            "steps": [
                {"step": one.step, "started_s": round(one.started_s, 3)}
                for one in self.story.steps.records
            ],
            "events": [event.to_dict() for event in self.story.events],
            "forecasts": [one.to_dict() for one in self.forecasts],
        }

    def _drained(self) -> dict[str, Any]:
        told = _amount(self.drained)
        return {
            "mass_kg": told["mass_kg"],
            "volume_L": told["volume_L"],
            "volume_20C_L": told["volume_20C_L"],
            "U_volume_L": told["U_volume_L"],
            "stages": [_stage(stage, amount) for stage, amount in self.stages],
            "budget": _budget(self.drained.volume_L if self.drained else None),
        }

    def _refill(self) -> dict[str, Any]:
        added = self.refill
        return {
            "target_volume_20C_L": _round(self.target_20C_L, 6),
            "target_mass_kg": _round(self.target_kg, 6),
            "added_mass_kg": added and round(added.mass_kg.value, 6),
            "added_volume_20C_L": added and round(added.volume_20C_L.value, 6),
            "U_volume_L": added and round(added.volume_20C_L.U, 6),
            "budget": _budget(added.volume_20C_L if added else None),
        }

    def _spill(self) -> dict[str, Any]:
        told = _amount(self.spill)
        return {
            "mass_kg": told["mass_kg"],
            "volume_L": told["volume_L"],
            "U_volume_L": told["U_volume_L"],
            "volume_20C_L": told["volume_20C_L"],
            "budget": _budget(self.spill.volume_L if self.spill else None),
        }

    def _net(self) -> dict[str, Any]:
        net = self.net
        return {
            "volume_20C_L": net and round(net.volume_20C_L.value, 6),
            "U_volume_L": net and round(net.volume_20C_L.U, 6),
            "budget": _budget(net.volume_20C_L if net else None),
        }

    def _level(self) -> dict[str, Any]:
        check = self.check
        closing = check.closing if check else None
        return {
            "verdict": check.verdict if check else Verdict.NOT_MEASURED,
            "flow_at_close_mL_per_min": closing and round(closing.flow_mL_per_min, 3),
            "temperature_at_close_C": closing and _round(closing.fluid_C, 3),
            "U_temperature_C": closing and _round(closing.U_fluid_C, 3),
            "excess_left_mL": closing and _round(closing.excess_left_mL, 2),
        }


def form_result(
    story: Story,
    scale: Calibration,
    supply: Calibration | None,
    jugs: Sequence[Jug],
    *,
    refill_failed: bool,
    forecasts: Sequence[Any] = (),
) -> Result:
    """Form the results with the common errors kept in common.

    Args:
        story: The service.
        scale: Calibration of the drain scale.
        supply: Of the second scale, if there is one; then the jugs stood there.
        jugs: What left which jug.
        refill_failed: The scale of the jugs was in fault while fluid went in.
        forecasts: To be handed on.
    """
    quantities = ResultQuantities(story.fluid, scale, supply)
    readings = _Readings(quantities)
    stages = [(stage, readings.stage(stage)) for stage in story.drains]
    drained = quantities.total([amount for _, amount in stages]) if stages else None
    added: Amount | None = None
    if not refill_failed:
        added = _added(story, quantities, readings, jugs, is_supply=supply is not None)
    spill = _spilled(story, quantities, readings)
    net: Amount | None = None
    if added is not None and drained is not None:
        net = added - drained if spill is None else added - spill - drained
    target_L = target_kg = None
    if drained is not None:
        target_L = drained.volume_20C_L.value + story.job.procedure.allowance_L
        target_kg = target_L * story.fluid.density_kg_per_m3(20.0) / 1000.0
    check = _last_check(story)
    return Result(drained, stages, added, target_L, target_kg, spill, net, check, story, forecasts)


def _last_check(story: Story) -> LevelCheck | None:
    """The last attempt; one that was only prepared counts if there is no other."""
    tried = [check for check in story.attempts if check.is_open or check.is_shut]
    tried = [c for c in tried if c.marked_s is not None or c.spill_s is not None] or tried
    return tried[-1] if tried else (story.attempts[-1] if story.attempts else None)


def _added(
    story: Story,
    quantities: ResultQuantities,
    readings: "_Readings",
    jugs: Sequence[Jug],
    *,
    is_supply: bool,
) -> Amount | None:
    amounts = [readings.jug(jug, story, is_supply=is_supply) for jug in jugs]
    amounts += [quantities.typed_in(one.volume_20C_L) for one in story.added_by_hand]
    return quantities.total(amounts) if amounts else None


def _spilled(story: Story, quantities: ResultQuantities, readings: "_Readings") -> Amount | None:
    if story.spills:
        return quantities.total([readings.stage(stage) for stage in story.spills])
    return None


class _Readings:
    """Makes amounts of weighings; one reading that ends a stage and begins the next is one."""

    def __init__(self, quantities: ResultQuantities) -> None:
        self._quantities = quantities
        self._known: dict[tuple[float, bool], Any] = {}

    def stage(self, stage: Stage) -> Amount:
        total: Any = 0.0
        for weighing in stage.weighings:
            total = total + self._gained(weighing)
        for one in stage.unweighed:
            total = total + self._quantities.unweighed_kg(one.kg, one.u_kg)
        fluid_C, u_C = stage_fluid(stage)
        return self._quantities.amount(total, fluid_C, u_C)

    def jug(self, jug: Jug, story: Story, *, is_supply: bool) -> Amount:
        gained = self._gained(jug.weighing, is_supply=is_supply)
        return self._quantities.amount(-1.0 * gained, *story.new_fluid)

    def _gained(self, weighing: Weighing, *, is_supply: bool = False) -> Any:
        start = self._reading(weighing.from_kg, is_supply)
        end = self._reading(weighing.to_kg, is_supply)
        if end is start:  # nothing was gained, but that was read twice
            end = self._quantities.reading_kg(weighing.to_kg, is_supply=is_supply)
        gained = end - start
        if weighing.excluded_n:
            u = U_EXCLUDED_KG * weighing.excluded_n**0.5
            gained = gained - self._quantities.unweighed_kg(weighing.excluded_kg, u)
        return gained

    def _reading(self, kg: float, is_supply: bool) -> Any:
        if (kg, is_supply) not in self._known:
            self._known[kg, is_supply] = self._quantities.reading_kg(kg, is_supply=is_supply)
        return self._known[kg, is_supply]


def _amount(amount: Amount | None) -> dict[str, float | None]:
    if amount is None:
        return dict.fromkeys(("mass_kg", "volume_L", "volume_20C_L", "U_volume_L"))
    return {
        "mass_kg": round(amount.mass_kg.value, 6),
        "volume_L": round(amount.volume_L.value, 6),
        "volume_20C_L": round(amount.volume_20C_L.value, 6),
        "U_volume_L": round(amount.volume_L.U, 6),
    }


def _stage(stage: Stage, amount: Amount) -> dict[str, Any]:
    return {
        "step": stage.step,
        "mass_kg": round(amount.mass_kg.value, 6),
        "volume_L": round(amount.volume_L.value, 6),
        "started_s": round(stage.started_s, 3),
        "dripped_s": _round(stage.dripped_s, 3),
    }


def _budget(measured: Measured | None) -> list[dict[str, Any]]:
    if measured is None:
        return []
    return [
        {"source": one.source, "u_L": round(one.u, 6), "share": round(one.fraction, 4)}
        for one in measured.shares
    ]


def _round(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
