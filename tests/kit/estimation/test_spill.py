"""The spill over a rim: how much still stands above it, and when it will be thin."""

import math
import random
from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.estimation.spill import Inflow, SpillModel, flow_and_slopes

G_PER_ML = 0.835
LIMIT_ML_PER_S = 1.0  # 60 mL/min
NO_INFLOW = Inflow(0.0, 0.01)


@dataclass
class Sump:
    """A sump whose spill follows the weir's 3/2, limited by a pipe; small steps."""

    v_mL: float
    weir: float = 0.006
    pipe_mL_per_s: float = 12.0
    inflow_mL_per_s: float = 0.0
    ran_mL: float = 0.0

    @property
    def flow(self) -> float:
        weir = self.weir * self.v_mL * math.sqrt(self.v_mL)
        return weir * self.pipe_mL_per_s / math.hypot(weir, self.pipe_mL_per_s)

    def run(self, seconds: float) -> None:
        for _ in range(round(seconds * 100)):
            ran = self.flow * 0.01
            self.v_mL = max(self.v_mL + 0.01 * self.inflow_mL_per_s - ran, 1e-6)
            self.ran_mL += ran

    def thin_s(self) -> float:
        """Seconds until the flow falls below the limit."""
        ahead = Sump(self.v_mL, self.weir, self.pipe_mL_per_s, self.inflow_mL_per_s)
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
    half = 0.0
    for seconds, weight in sorted(
        (s, w) for w, s in model.finishes(LIMIT_ML_PER_S) if s is not None
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
    before = model.flow_mL_per_s(15.0)[0]
    grams = sump.ran_mL * G_PER_ML
    model.reading(15.5, grams + 250.0, 0.1, jumped=True)
    for i in range(6):
        sump.run(0.5)
        model.reading(16.0 + 0.5 * i, sump.ran_mL * G_PER_ML + 250.0, 0.1)
    assert model.flow_mL_per_s(18.5)[0] == pytest.approx(before, rel=0.2)


def test_an_impossible_reading_leaves_the_model_usable() -> None:
    model = watched(Sump(250.0), 10.0, expected_mL=300.0)
    model.reading(10.5, 1e6, 0.1)
    model.reading(11.0, -1e6, 0.1)
    values = [*model.flow_mL_per_s(11.0), *model.excess_mL(), *(w for w, _ in model.finishes(1.0))]
    assert all(math.isfinite(value) for value in values)


def test_double_the_volume_over_a_wide_rim_gives_2_83_times_the_flow() -> None:
    """2^1.5: two weir laws agree on the power (King and Brater, Handbook of Hydraulics)."""
    wide = 12.0  # ln of a pipe that limits nothing
    one, two = (flow_and_slopes(math.log(v), -5.4, wide)[0] for v in (50.0, 100.0))
    assert two / one == pytest.approx(2.828_427, rel=1e-3)


def test_far_above_the_rim_the_pipe_limits_the_flow() -> None:
    """It rises as the head to between Torricelli's 1/2 and Hagen-Poiseuille's 1."""
    low, high = (flow_and_slopes(math.log(v), 0.0, 2.0)[0] for v in (2_000.0, 4_000.0))
    assert 1.0 < high / low <= 2.0
    ln_power = math.log(high / low) / math.log(2.0)
    assert 0.5 <= ln_power <= 1.0


@given(st.floats(-2.0, 8.0), st.floats(-10.0, 2.0), st.floats(-3.0, 8.0))
def test_the_slopes_are_those_of_the_flow(ln_v: float, ln_c: float, ln_p: float) -> None:
    """Central differences as the reference."""
    h = 1e-5
    _, *told = flow_and_slopes(ln_v, ln_c, ln_p)
    for k, slope in enumerate(told):
        up = [ln_v, ln_c, ln_p]
        down = [ln_v, ln_c, ln_p]
        up[k] += h
        down[k] -= h
        numeric = (flow_and_slopes(*up)[0] - flow_and_slopes(*down)[0]) / (2.0 * h)
        assert slope == pytest.approx(numeric, rel=1e-4, abs=1e-8)


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
