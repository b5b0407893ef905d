"""One attempt at the level by itself: how it is judged where the plug is shut in good time."""

import pytest
from tests.kit.core.bench import JOB, Bench

from drainscale.core.level_check import LevelCheck, Verdict
from drainscale.estimation.spill import Inflow, SpillModel
from drainscale.estimation.temperature import FluidTemperature
from drainscale.quantities.samples import BoardReading, PanReading

STRONG_ML_PER_S = 8.0  # against a close limit of 1 mL/s


def warmed_to(fluid_C: float) -> tuple[FluidTemperature, float]:
    """What the estimator knows when a bench's fluid is at a temperature, and when that is."""
    bench = Bench()
    bench.wait(10.0)
    bench.start_engine()
    started_s = bench.t
    bench.wait(bench.warm_up.reaches_s(fluid_C))
    temperature = FluidTemperature(JOB.pan_sensor, JOB.procedure.window_C)
    temperature.engine_started(started_s)
    for sample in bench.samples:
        if isinstance(sample, PanReading):
            temperature.pan(sample.t, sample.pan_C)
        elif isinstance(sample, BoardReading):
            temperature.board(sample.t, sample.board_C)
    return temperature, bench.t


def shut_at(fluid_C: float, flow_mL_per_s: float) -> LevelCheck:
    """A plug that is shut while so much runs."""
    temperature, t = warmed_to(fluid_C)
    check = LevelCheck(JOB.procedure, temperature)
    check.spill_began(t - 5.0)
    check.spilled_mL = 100.0
    check.model = SpillModel(t, flow_mL_per_s, 0.01, 0.83, 300.0, 350.0, Inflow(0.0, 0.01))
    check.tick(t)
    check.shut(t)
    return check


def test_a_plug_shut_at_the_guard_band_of_the_upper_limit_while_it_runs_overran() -> None:
    check = shut_at(44.4, STRONG_ML_PER_S)
    assert check.told("window-closing")
    assert check.verdict is Verdict.OVERRAN


def test_a_plug_shut_amid_the_window_while_it_runs_is_not_judged() -> None:
    check = shut_at(39.0, STRONG_ML_PER_S)
    assert not check.told("window-closing")
    assert check.verdict is Verdict.NOT_MEASURED


class Unlikely(SpillModel):
    """A spill that ends within a second with a set chance, else never."""

    chance = 0.3

    def finishes(self, limit_mL_per_s: float) -> list[tuple[float, float | None]]:
        assert limit_mL_per_s > 0.0
        return [(self.chance, 0.5), (1.0 - self.chance, None)]


def spilling_at(fluid_C: float, chance: float) -> tuple[LevelCheck, float]:
    """A spill that runs strongly, in the third look at its end."""
    temperature, t = warmed_to(fluid_C)
    check = LevelCheck(JOB.procedure, temperature)
    check.spill_began(t - 30.0)
    check.spilled_mL = 100.0
    model = Unlikely(t, STRONG_ML_PER_S, 0.01, 0.83, 300.0, 350.0, Inflow(0.0, 0.01))
    model.chance = chance
    check.model = model
    check.tick(t)
    for _ in range(3):
        check.foresee(t)
    return check, t


@pytest.mark.parametrize(
    ("fluid_C", "chance", "is_told"),
    [
        (44.4, 0.4, True),  # the plug is to be shut anyhow: the likelier end is told
        (44.4, 0.9, False),
        (40.0, 0.4, False),  # there is time: only a small chance is told
        (40.0, 0.05, True),
    ],
)
def test_overrun_is_told_sooner_once_the_window_closes(
    fluid_C: float, chance: float, *, is_told: bool
) -> None:
    check, t = spilling_at(fluid_C, chance)
    assert check.told("window-closing") is (fluid_C > 44.0)
    assert check.finish is not None
    assert check.finish[1] == pytest.approx(chance, rel=0.25)  # times that of the window
    check.tick(t)
    assert check.told("will-overrun") is is_told


def test_a_spill_that_is_withdrawn_leaves_nothing_behind() -> None:
    check = shut_at(39.0, STRONG_ML_PER_S)
    check.spill_withdrawn()
    assert not check.is_open
    assert check.flow_mL_per_min(1e6) is None
    assert check.spilled_mL == pytest.approx(0.0)
