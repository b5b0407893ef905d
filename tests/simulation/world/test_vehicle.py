"""The unit: emptying times, the rim, what is conserved."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale_sim.bay.fluid import Fluid
from drainscale_sim.bay.heat import Heat, HeatSetup
from drainscale_sim.bay.vehicle import Vehicle, VehicleSetup

FLUID = Fluid(848.0, 30.0, 6.0)
COLD = HeatSetup(air_C=20.0, start_C=20.0)


def _unit(**build: float | bool) -> Vehicle:
    plain = {"has_standpipe": True, "film_share": 0.0, "hold_run_L": 4.0, "hold_stop_L": 4.0}
    return Vehicle(VehicleSetup(**{**plain, **build}), FLUID, Heat(COLD))  # type: ignore[arg-type]


def test_a_tank_falls_to_a_quarter_of_its_head_in_half_its_emptying_time() -> None:
    # closed form 2A/(C a sqrt(2g)) (sqrt h1 - sqrt h2): 0.06 m2, 12 mm, C 0.61, 0.1 to 0.025 m
    unit = _unit(area_m2=0.06, rim_m=0.1, plug_bore_m=0.012, plug_m=0.0, right_C=20.0)
    unit.drain_open, unit.pipe_in = True, False
    assert unit.sump_m3 == pytest.approx(0.006)
    t = 0.0
    while unit.sump_m3 > 0.06 * 0.025:
        unit.step(0.01)
        t += 0.01
    assert t == pytest.approx(62.1003, abs=0.05)


def test_the_pipe_leaves_what_stands_below_its_rim() -> None:
    unit = _unit(start_excess_L=0.5, right_C=20.0)
    unit.drain_open = True
    for _ in range(60_000):
        unit.step(0.05)
    below_m3 = unit.setup.area_m2 * (unit.setup.rim_m + unit.setup.crest_m)
    assert unit.sump_m3 == pytest.approx(below_m3, rel=4e-3)
    assert unit.sump_m3 >= below_m3


def test_a_check_hole_spills_only_what_is_above_its_edge() -> None:
    unit = _unit(has_standpipe=False, start_excess_L=-0.2, right_C=20.0)
    unit.check_open = True
    for _ in range(1000):
        unit.step(0.05)
    assert unit.flow_kg_per_s == 0.0


def test_a_running_engine_lowers_the_sump_by_what_the_circuit_takes() -> None:
    unit = _unit(hold_run_L=5.0, hold_stop_L=4.2)
    before_m3 = unit.sump_m3
    unit.engine_on = True
    unit.heat.fluid_C = 20.0
    for _ in range(4000):
        unit.step(0.05)
        unit.heat.fluid_C = 20.0
    assert before_m3 - unit.sump_m3 == pytest.approx(0.8e-3, rel=1e-3)


def test_warming_by_a_kelvin_lifts_the_excess_by_the_expansion() -> None:
    # 0.6278/848 per kelvin near 15 °C: ASTM D1250-80, table 54D
    unit = _unit()
    before_m3, volume_m3 = unit.excess_m3, unit.mass_kg / unit.density_kg_per_m3
    unit.heat.fluid_C += 1.0
    assert unit.excess_m3 - before_m3 == pytest.approx(volume_m3 * 0.6278 / 848.0, rel=0.02)


def test_a_thin_flow_falls_in_drops_of_one_size() -> None:
    unit = _unit(start_excess_L=0.1, right_C=20.0)
    unit.drain_open = True
    falls = [unit.step(0.05)[0] for _ in range(16_000)]
    assert unit.flow_kg_per_s < unit.setup.drops_below_kg_per_s
    drops = [kg for kg in falls[6_000:] if kg > 0.0]
    assert len(drops) > 10
    assert max(drops) < 1.3 * unit.outlet.drop_kg
    assert min(drops) >= unit.outlet.drop_kg


@given(
    excess_L=st.floats(-0.5, 1.0),
    added_kg=st.floats(0.0, 3.0),
    film=st.floats(0.0, 0.1),
    doings=st.lists(st.sampled_from(["drain", "pipe", "engine", "shut", "add"]), max_size=8),
)
def test_no_oil_appears_or_vanishes_whatever_is_done(
    excess_L: float, added_kg: float, film: float, doings: list[str]
) -> None:
    unit = _unit(start_excess_L=excess_L, film_share=film, hold_stop_L=3.5)
    given_kg, left_kg = unit.mass_kg, 0.0
    for doing in doings:
        if doing == "add":
            unit.add(added_kg, 15.0)
            given_kg += added_kg
        elif doing == "shut":
            left_kg += unit.shut()
        else:
            unit.drain_open |= doing == "drain"
            unit.pipe_in &= doing != "pipe"
            unit.engine_on ^= doing == "engine"
        left_kg += sum(unit.step(0.05)[0] for _ in range(200))
    assert unit.mass_kg + left_kg + unit.outlet.hangs_kg == pytest.approx(given_kg, abs=1e-9)
    assert unit.film_m3 >= 0.0
    assert unit.sump_m3 >= 0.0


def test_density_and_viscosity_give_the_sheet_back() -> None:
    assert FLUID.density_kg_per_m3(15.0) == pytest.approx(848.0)
    assert FLUID.nu_m2_per_s(40.0) == pytest.approx(30e-6, rel=1e-9)
    assert FLUID.nu_m2_per_s(100.0) == pytest.approx(6e-6, rel=1e-9)


@pytest.mark.parametrize(("at_C", "vcf"), [(0.0, 1.011444), (40.0, 0.980754), (100.0, 0.933826)])
def test_an_ordinary_fluid_expands_as_the_lubricating_oil_table(at_C: float, vcf: float) -> None:
    # ASTM D1250-80, table 54D formula, 820 kg/m3 at 15 °C
    thin = Fluid(820.0, 30.0, 6.0)
    assert thin.density_kg_per_m3(at_C) / 820.0 == pytest.approx(vcf, abs=2e-6)
