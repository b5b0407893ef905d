"""The spill over a rim: how much still stands above it, and when it will be thin."""

import math
import random
from dataclasses import dataclass, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.estimation.rim import CHECK_HOLE
from drainscale.estimation.spill import Inflow, SpillModel

G_PER_ML = 0.835
LIMIT_ML_PER_S = 1.0  # 60 mL/min
NO_INFLOW = Inflow(0.0, 0.01)


@dataclass
class Sump:
    """A sump whose spill follows the weir's 3/2 or the pipe's flow, whichever is less; small steps.

    That the lesser governs a riser pipe is how hydraulics rates it (common practice, no source).
    """

    v_mL: float
    weir: float = 0.006
    pipe_mL_per_s: float = 11.0
    pipe_holds_mL: float = 1365.0  # 30 mm of pipe under a surface of 455 cm2
    inflow_mL_per_s: float = 0.0
    ran_mL: float = 0.0

    @property
    def flow(self) -> float:
        weir = self.weir * self.v_mL * math.sqrt(self.v_mL)
        head = math.pow(1.0 + self.v_mL / self.pipe_holds_mL, 0.6)
        return min(weir, self.pipe_mL_per_s * head)

    def run(self, seconds: float) -> None:
        for _ in range(round(seconds * 100)):
            ran = self.flow * 0.01
            self.v_mL = max(self.v_mL + 0.01 * self.inflow_mL_per_s - ran, 1e-6)
            self.ran_mL += ran

    def thin_s(self) -> float:
        """Seconds until the flow falls below the limit."""
        ahead = replace(self)
        seconds = 0.0
        while ahead.flow > LIMIT_ML_PER_S and seconds < 3600.0:
            ahead.run(0.5)
            seconds += 0.5
        return seconds


def watched(sump: Sump, seconds: float, expected_mL: float, noise_g: float = 0.08) -> SpillModel:
    """Run a spill under the scale's half-second readings; the sump is left where it stands."""
    rng = random.Random(8)
    sump.run(2.5)
    inflow = Inflow(sump.inflow_mL_per_s, 0.3 * sump.inflow_mL_per_s + 0.01)
    model = SpillModel(0.0, sump.flow, 0.3, G_PER_ML, expected_mL, 350.0, inflow)
    start_mL = sump.ran_mL
    for i in range(1, round(2 * seconds) + 1):
        sump.run(0.5)
        grams = (sump.ran_mL - start_mL) * G_PER_ML
        model.reading(0.5 * i, grams + rng.gauss(0.0, noise_g), noise_g)
    return model


def median_s(model: SpillModel) -> float:
    return _median_below(model, LIMIT_ML_PER_S)


def _median_below(model: SpillModel, limit_mL_per_s: float) -> float:
    half = 0.0
    for seconds, weight in sorted(
        (s, w) for w, s in model.finishes(limit_mL_per_s) if s is not None
    ):
        half += weight
        if half >= 0.5:
            return seconds
    return math.inf


def test_the_flow_is_followed() -> None:
    sump = Sump(180.0)
    model = watched(sump, 25.0, expected_mL=300.0)
    flow, u = model.flow_mL_per_s(25.0)
    assert flow == pytest.approx(sump.flow, abs=max(2.0 * u, 0.1 * sump.flow))
    assert u < 0.15 * sump.flow


@pytest.mark.parametrize("excess_mL", [120.0, 250.0, 400.0])
def test_what_stands_above_the_rim_is_told_within_its_uncertainty(excess_mL: float) -> None:
    sump = Sump(excess_mL)
    model = watched(sump, 0.06 * excess_mL, expected_mL=excess_mL + 100.0)
    told, u = model.excess_mL()
    assert abs(told - sump.v_mL) < 2.0 * u + 5.0


@pytest.mark.parametrize("excess_mL", [120.0, 180.0, 250.0])
def test_the_end_of_a_spill_is_foreseen_once_it_falls(excess_mL: float) -> None:
    sump = Sump(excess_mL)
    model = watched(sump, 0.08 * excess_mL, expected_mL=excess_mL)
    due_s = sump.thin_s()
    assert due_s > 8.0
    assert median_s(model) == pytest.approx(due_s, rel=0.35)


@pytest.mark.parametrize("rim_mL_per_s", [3.0, 4.0, 5.0])
def test_soon_after_the_rim_takes_over_the_end_is_not_foreseen_too_near(
    rim_mL_per_s: float,
) -> None:
    """The flow has fallen a fair part below what the pipe would let through."""
    sump = Sump(250.0)
    rng = random.Random(3)
    sump.run(2.5)
    model = SpillModel(0.0, sump.flow, 0.3, G_PER_ML, 250.0, 350.0, NO_INFLOW)
    start_mL, t = sump.ran_mL, 0.0
    while sump.flow > rim_mL_per_s:
        sump.run(0.5)
        t += 0.5
        grams = (sump.ran_mL - start_mL) * G_PER_ML
        model.reading(t, grams + rng.gauss(0.0, 0.05), 0.05)
    assert median_s(model) == pytest.approx(sump.thin_s(), rel=0.2)


def test_a_check_hole_runs_longer_than_a_rim_that_falls_as_fast() -> None:
    """Flow as the square of the head falls off more slowly than as its power 3/2."""
    over_rim, out_of_hole = (
        SpillModel(0.0, 4.0, 0.3, G_PER_ML, 120.0, 350.0, NO_INFLOW, *rim)
        for rim in ((), (CHECK_HOLE,))
    )
    for i in range(1, 61):
        t = 0.5 * i
        # q = 4 / (1 + t / 30)^2, as a hole's square makes it
        grams = 120.0 * (1.0 - 1.0 / (1.0 + t / 30.0)) * G_PER_ML
        for model in (over_rim, out_of_hole):
            model.reading(t, grams, 0.05)
    thin_s = 30.0 * (math.sqrt(4.0 / 0.4) - 1.0) - 30.0
    told = [_median_below(model, 0.4) for model in (over_rim, out_of_hole)]
    assert told[1] == pytest.approx(thin_s, rel=0.2)
    assert told[0] < 0.9 * told[1]


def test_a_warming_sump_that_adds_more_than_the_limit_never_gets_thin() -> None:
    sump = Sump(120.0, inflow_mL_per_s=1.5)
    model = watched(sump, 60.0, expected_mL=150.0)
    never = sum(w for w, s in model.finishes(LIMIT_ML_PER_S) if s is None)
    assert never > 0.8


def test_the_probabilities_of_the_ends_add_up_to_one() -> None:
    model = watched(Sump(180.0), 20.0, expected_mL=200.0)
    assert sum(w for w, _ in model.finishes(LIMIT_ML_PER_S)) == pytest.approx(1.0)
    assert sum(guess.weight for guess in model.guesses) == pytest.approx(1.0)


def test_a_jump_of_the_reading_is_no_flow() -> None:
    """A hand stays on the container, 250 g: the flow told goes on."""
    sump = Sump(250.0)
    model = watched(sump, 15.0, expected_mL=300.0)
    grams = sump.ran_mL * G_PER_ML
    model.reading(15.5, grams + 250.0, 0.1, jumped=True)
    for i in range(6):
        sump.run(0.5)
        model.reading(16.0 + 0.5 * i, sump.ran_mL * G_PER_ML + 250.0, 0.1)
    assert model.flow_mL_per_s(18.5)[0] == pytest.approx(sump.flow, rel=0.2)


def test_an_impossible_reading_leaves_the_model_usable() -> None:
    model = watched(Sump(250.0), 10.0, expected_mL=300.0)
    model.reading(10.5, 1e6, 0.1)
    model.reading(11.0, -1e6, 0.1)
    values = [*model.flow_mL_per_s(11.0), *model.excess_mL(), *(w for w, _ in model.finishes(1.0))]
    assert all(math.isfinite(value) for value in values)


@given(st.lists(st.tuples(st.floats(0.0, 30.0), st.floats(-1e7, 1e7)), min_size=1, max_size=25),
       st.floats(0.0, 300.0))  # fmt: skip
def test_any_readings_leave_every_answer_finite(
    readings: list[tuple[float, float]], flow_mL_per_s: float
) -> None:
    model = SpillModel(0.0, flow_mL_per_s, 0.5, G_PER_ML, 300.0, 350.0, NO_INFLOW)
    t = 0.0
    for dt, grams in readings:
        t += dt
        model.reading(t, grams, 0.1)
        assert all(math.isfinite(x) for x in (*model.flow_mL_per_s(t), *model.excess_mL()))
        assert model.flow_mL_per_s(t)[0] >= 0.0
    for weight, seconds in model.finishes(LIMIT_ML_PER_S):
        assert weight >= 0.0
        assert seconds is None or 0.0 <= seconds < 1e5
