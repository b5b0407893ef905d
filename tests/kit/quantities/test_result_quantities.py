"""Amounts of one job: common errors cancel; two other implementations agree."""

from math import exp, hypot, sqrt
from random import Random
from statistics import fmean, stdev

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.errors import QuantityError
from drainscale.quantities.calibration import Calibration
from drainscale.quantities.density import DensityModel, FluidDensity
from drainscale.quantities.job import FluidSheet, ScaleSettings
from drainscale.quantities.measured import Quantity
from drainscale.quantities.other_densities import LinearExpansionDensity
from drainscale.quantities.result_quantities import Amount, ResultQuantities
from drainscale.quantities.volume import Weighed, true_mass_kg, volume_at_20C_L, volume_at_fluid_L

MASSES = (0.0, 2.0, 5.0, 10.0)
CELL = Calibration(ScaleSettings(20.0, 10.0, MASSES, (1e4, 4.1e5, 1.011e6, 2.01e6), 0.0005, 0.0004))
SUPPLY = Calibration(ScaleSettings(20.0, 10.0, (0.0, 5.0), (0.0, 1e6), 0.0008, 0.0006))
OIL = FluidDensity(FluidSheet(846.0, 15.0, 1.5))
GLYCOL = LinearExpansionDensity(1060.0, 20.0, 2.0, 6.0e-4, 3.0e-5)


def job(supply: Calibration | None = None) -> ResultQuantities:
    return ResultQuantities(OIL, CELL, supply)


def span(q: ResultQuantities, from_kg: float, to_kg: float) -> Quantity:
    return q.reading_kg(to_kg) - q.reading_kg(from_kg)


def service(q: ResultQuantities) -> tuple[Amount, Amount, Amount]:
    """Drained, added and spilled fluid of an ordinary service."""
    drained = q.amount(span(q, 1.1, 4.2), 22.0, 1.0)
    added = q.amount(span(q, 0.7, 4.4), 20.0, 1.0)
    spilled = q.amount(span(q, 1.1, 1.55), 39.0, 0.9)
    return drained, added, spilled


@pytest.mark.parametrize("fluid", [OIL, GLYCOL], ids=["oil", "glycol"])
@pytest.mark.parametrize(("from_kg", "to_kg", "fluid_C"), [(1.1, 4.2, 22.0), (0.3, 9.0, 61.0)])
def test_one_amount_agrees_with_the_hand_written_budget(
    fluid: DensityModel, from_kg: float, to_kg: float, fluid_C: float
) -> None:
    q = ResultQuantities(fluid, CELL)
    amount = q.amount(span(q, from_kg, to_kg) + q.unweighed_kg(0.0, 0.002), fluid_C, 1.2)
    weighed = Weighed(to_kg - from_kg, CELL.u_weights_kg(from_kg, to_kg), sqrt(2.0) * 0.0004, 0.002)
    by_hand = [
        make(weighed, fluid, fluid_C, 1.2)
        for make in (true_mass_kg, volume_at_fluid_L, volume_at_20C_L)
    ]
    ours = [amount.mass_kg, amount.volume_L, amount.volume_20C_L]
    assert [m.value for m in ours] == pytest.approx([m.value for m in by_hand], rel=1e-12)
    assert [m.u for m in ours] == pytest.approx([m.u for m in by_hand], rel=1e-9)
    assert [s.source for s in ours[1].shares] == [s.source for s in by_hand[1].shares]


def test_net_is_much_surer_than_what_it_is_made_of() -> None:
    drained, added, spilled = service(job())
    net = added - spilled - drained
    as_if_independent = sqrt(sum(a.volume_20C_L.u**2 for a in (drained, added, spilled)))
    assert net.volume_20C_L.u < 0.2 * as_if_independent
    assert net.volume_20C_L.shares[0].source == "repeatability"


def test_density_error_in_net_is_that_of_net_alone() -> None:
    drained, added, spilled = service(job())
    net = (added - spilled - drained).volume_20C_L
    by_density = next(s.u for s in net.shares if s.source == "density of the fluid")
    assert by_density == pytest.approx(abs(net.value) * 1.5 / 846.0, rel=0.05)


def test_amounts_of_different_jobs_share_nothing() -> None:
    one, other = job(), job()
    difference = one.amount(span(one, 1.0, 4.0), 20.0, 1.0) - other.amount(
        span(other, 1.0, 4.0), 20.0, 1.0
    )
    single = one.amount(span(one, 1.0, 4.0), 20.0, 1.0)
    assert difference.volume_20C_L.u == pytest.approx(sqrt(2.0) * single.volume_20C_L.u, rel=1e-9)


def test_a_reading_shared_by_two_stages_cancels_in_their_sum() -> None:
    q = job()
    tare, between, end = (q.reading_kg(kg) for kg in (1.1, 2.0, 4.2))
    stages = q.total([q.amount(between - tare, 20.0, 1.0), q.amount(end - between, 20.0, 1.0)])
    whole = q.amount(end - tare, 20.0, 1.0)
    assert stages.mass_kg.value == pytest.approx(whole.mass_kg.value)
    assert stages.mass_kg.u == pytest.approx(whole.mass_kg.u)


def test_stages_of_their_own_readings_are_less_sure() -> None:
    q = job()
    stages = q.amount(span(q, 1.1, 2.0), 20.0, 1.0) + q.amount(span(q, 2.0, 4.2), 20.0, 1.0)
    assert stages.mass_kg.u > 1.2 * q.amount(span(q, 1.1, 4.2), 20.0, 1.0).mass_kg.u


def test_the_same_weights_stand_behind_all_jugs() -> None:
    """Six equal jugs: their weights' errors add up in full, not as the root of the sum."""
    q = job()
    jugs = q.total([q.amount(span(q, 0.5, 1.5), 20.0, 0.0) for _ in range(6)])
    weights = next(s.u for s in jugs.mass_kg.shares if s.source == "calibration weights")
    assert weights == pytest.approx(6.0 * 0.0005 / 2.0, rel=0.01)


def test_a_thermometer_error_is_common_unless_told_otherwise() -> None:
    q = job()
    common = q.amount(span(q, 1.0, 4.0), 60.0, 2.0) + q.amount(span(q, 1.0, 4.0), 60.0, 2.0)
    apart = q.amount(span(q, 1.0, 4.0), 60.0, 2.0, own_thermometer=True) + q.amount(
        span(q, 1.0, 4.0), 60.0, 2.0, own_thermometer=True
    )
    share = [
        next(s.u for s in amount.volume_L.shares if s.source == "fluid temperature")
        for amount in (common, apart)
    ]
    assert share[0] == pytest.approx(sqrt(2.0) * share[1])


def test_a_reading_may_bring_its_own_uncertainty() -> None:
    q = job()
    rough = q.amount(q.reading_kg(4.0, 0.01) - q.reading_kg(1.0, 0.0), 20.0, 0.0)
    repeatability = next(s.u for s in rough.mass_kg.shares if s.source == "repeatability")
    assert repeatability == pytest.approx(0.01, rel=0.002)


def test_the_second_scale_has_weights_of_its_own() -> None:
    q = job(SUPPLY)
    jug = q.reading_kg(5.0, is_supply=True) - q.reading_kg(0.0, is_supply=True)
    pan = q.reading_kg(5.0) - q.reading_kg(0.0)
    difference = q.amount(jug - pan, 20.0, 0.0).mass_kg
    weights = next(s.u for s in difference.shares if s.source == "calibration weights")
    assert weights == pytest.approx(hypot(0.0008, 0.0005), rel=0.002)


def test_a_second_scale_that_is_not_there_cannot_be_read() -> None:
    with pytest.raises(QuantityError, match="supply scale"):
        job().reading_kg(1.0, is_supply=True)


def test_typed_litres_count_as_they_are() -> None:
    typed = job().typed_in(0.5)
    assert typed.volume_20C_L.value == 0.5
    assert typed.volume_20C_L.u == pytest.approx(0.05)
    assert typed.mass_kg.value == pytest.approx(0.5 * OIL.rho20_kg_per_m3 / 1000.0)


def test_sums_and_differences_are_those_of_mass_and_of_both_volumes() -> None:
    drained, added, spilled = service(job())
    total, rest = drained + added, added - spilled
    for name in ("mass_kg", "volume_L", "volume_20C_L"):
        a, b, c = (getattr(amount, name).value for amount in (drained, added, spilled))
        assert getattr(total, name).value == pytest.approx(a + b, rel=1e-12)
        assert getattr(rest, name).value == pytest.approx(b - c, rel=1e-12)


def test_an_empty_sum_is_exactly_nothing() -> None:
    total = job().total([])
    assert (total.mass_kg.value, total.mass_kg.u, total.volume_L.U) == (0.0, 0.0, 0.0)


@given(st.floats(0.5, 9.0), st.floats(0.5, 9.0))
def test_taking_away_what_was_put_in_leaves_nothing(a_kg: float, b_kg: float) -> None:
    q = job()
    amount = q.amount(span(q, a_kg, b_kg), 30.0, 1.0)
    nothing = (amount - amount).volume_L
    assert (nothing.value, nothing.u) == pytest.approx((0.0, 0.0), abs=1e-15)


@given(st.floats(0.1, 9.0), st.floats(-10.0, 100.0))
def test_the_two_volumes_are_tied_by_the_fluids_density(mass_kg: float, fluid_C: float) -> None:
    q = job()
    amount = q.amount(q.reading_kg(mass_kg) - q.reading_kg(0.0), fluid_C, 1.0)
    at_20 = OIL.volume_at_20C_L(amount.volume_L.value, fluid_C)
    assert amount.volume_20C_L.value == pytest.approx(at_20, rel=1e-12)


class _World:
    """One draw of everything that may be wrong, and the amounts that follow, not linearised."""

    def __init__(self, random: Random) -> None:
        self.random = random
        self.rho15 = random.gauss(846.0, 1.5)
        self.stretch = random.gauss(1.0, 0.03)
        self.air = random.gauss(1.2, 0.03)
        self.thermometer = random.gauss(0.0, 1.0)
        self.masses = [0.0, *(random.gauss(mass, 0.0005) for mass in MASSES[1:])]

    def density(self, t_C: float) -> float:
        x = 0.6278 / self.rho15 * (t_C - 15.0)
        return self.rho15 * exp(-self.stretch * x * (1.0 + 0.8 * x))

    def read(self, indicated_kg: float) -> float:
        i = max(k for k in range(3) if k == 0 or MASSES[k] <= indicated_kg)
        share = (indicated_kg - MASSES[i]) / (MASSES[i + 1] - MASSES[i])
        return (
            self.masses[i]
            + share * (self.masses[i + 1] - self.masses[i])
            + self.random.gauss(0.0, 0.0004)
        )

    def amount(self, from_kg: float, to_kg: float, t_C: float, u_C: float) -> tuple[float, float]:
        rho = self.density(t_C + u_C * self.thermometer)
        indicated = self.read(to_kg) - self.read(from_kg)
        mass = indicated * (1.0 - 1.2 / 8000.0) / (1.0 - self.air / rho)
        return 1000.0 * mass / rho, 1000.0 * mass / self.density(20.0)


def test_a_simulation_of_the_whole_job_gives_the_same_uncertainties() -> None:
    """JCGM 101: propagate the distributions. 6000 draws give u to 1 %, so 4 % is four of them."""
    random = Random(20)
    draws = []
    for _ in range(6000):
        world = _World(random)
        out, poured = world.amount(1.1, 4.2, 22.0, 1.0), world.amount(0.7, 4.4, 20.0, 1.0)
        spill = world.amount(1.1, 1.55, 39.0, 0.9)
        draws.append((out[0], spill[0], poured[1] - spill[1] - out[1]))
    drained, added, spilled = service(job())
    ours = (drained.volume_L, spilled.volume_L, (added - spilled - drained).volume_20C_L)
    columns = list(zip(*draws, strict=True))
    assert [m.u for m in ours] == pytest.approx([stdev(c) for c in columns], rel=0.04)
    assert [m.value for m in ours] == pytest.approx([fmean(c) for c in columns], abs=0.0005)
