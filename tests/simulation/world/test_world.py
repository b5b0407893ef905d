"""The world as a whole: what is conserved, and that it can be had again."""

import pytest

from drainscale_sim.bay.sensors import ScaleSensor, ScaleSetup
from drainscale_sim.scenarios.draw import draw
from drainscale_sim.world.world import World


def _readings(world: World, from_s: float, to_s: float, every_s: float = 0.1) -> list[float]:
    times = [from_s + every_s * k for k in range(1, round((to_s - from_s) / every_s) + 1)]
    return [world.bridge_counts("drain", round(t, 3)) for t in times]


def _run_to_the_end(world: World) -> float:
    t = 0.0
    while not world.is_over and t < 7200.0:
        t += 10.0
        world.advance_to(t)
    assert world.is_over
    return t


@pytest.mark.parametrize("scenario", ["standpipe", "shaken", "filled-through-hole"])
def test_oil_is_conserved_over_a_whole_service(scenario: str) -> None:
    world = World.of(scenario, 4, follows_cues=False)
    bay = world.bay
    before_kg, in_container_kg = bay.vehicle.mass_kg, bay.container.oil_kg
    _run_to_the_end(world)
    ledger = bay.ledger
    left_kg = ledger.drained_kg + ledger.spilled_kg
    assert bay.vehicle.mass_kg == pytest.approx(before_kg + ledger.added_kg - left_kg, abs=1e-9)
    caught_kg = bay.container.oil_kg - in_container_kg + bay.floor_kg + bay.stream.in_flight_kg
    assert caught_kg == pytest.approx(left_kg, abs=1e-9)
    assert left_kg > 1.0


def test_a_unit_filled_through_its_hole_overflows_and_is_topped_up_running() -> None:
    world = World.of("filled-through-hole", 2, follows_cues=False)
    _run_to_the_end(world)
    ledger = world.bay.ledger
    steps = [step for _, step in ledger.steps]
    assert steps == [
        "prepare", "drain", "refit", "refill", "circulate", "warm", "refill", "warm", "level",
        "seal", "done",
    ]  # fmt: skip
    assert 0.05 < ledger.overflow.mass_kg < 0.4
    assert ledger.spilled_kg == pytest.approx(ledger.overflow.mass_kg + ledger.spills[0].mass_kg)
    # oil is lighter than water: a litre of it is 0.8 to 0.88 kg (density_15C_kg_per_m3, warmed)
    assert 0.8 < 0.001 * ledger.spilled_kg / ledger.spilled_m3 < 0.88


def test_what_falls_while_a_container_is_changed_falls_beside_and_was_drained() -> None:
    world = World.of("swapped", 1, follows_cues=False)
    first = world.bay.container
    world.advance_to(300.0)
    bay = world.bay
    assert bay.container is not first
    assert bay.container.tare_kg < first.tare_kg
    assert 0.0 < bay.ledger.beside_in_drain_kg < 0.2
    caught_kg = first.oil_kg + bay.container.oil_kg + bay.stream.in_flight_kg
    assert caught_kg + bay.floor_kg == pytest.approx(bay.ledger.drained_kg, abs=1e-9)


def test_the_same_seed_gives_the_same_world() -> None:
    one, two = (World.of("shaken", 3, follows_cues=False) for _ in range(2))
    assert _readings(one, 0.0, 300.0) == _readings(two, 0.0, 300.0)


def test_another_seed_gives_another_world() -> None:
    one, two = (World.of("standpipe", seed, follows_cues=False) for seed in (1, 2))
    assert _readings(one, 0.0, 5.0) != _readings(two, 0.0, 5.0)


def test_looking_more_often_changes_nothing() -> None:
    often, seldom = (World.of("standpipe", 5, follows_cues=False) for _ in range(2))
    _readings(often, 0.0, 200.0, 0.0125)
    seldom.advance_to(200.0)
    assert often.bay.vehicle.mass_kg == seldom.bay.vehicle.mass_kg
    assert _readings(often, 200.0, 210.0) == _readings(seldom, 200.0, 210.0)


def test_a_world_set_back_goes_the_same_way_again() -> None:
    world = World.of("standpipe", 6, follows_cues=False)
    world.advance_to(60.0)
    saved = world.save()
    first = _readings(world, 60.0, 400.0)
    flow = list(world.grid.flow_mL_per_min)
    world.load(saved)
    assert world.now_s() == 60.0
    assert _readings(world, 60.0, 400.0) == first
    assert world.grid.flow_mL_per_min == flow


def test_a_kept_second_can_be_gone_back_to_and_only_a_kept_one() -> None:
    world = World(draw("standpipe", 6), follows_cues=False, keeps_snapshots=True)
    first = _readings(world, 0.0, 90.0)
    assert world.restore(30.7) == 30.7
    assert world.restore(30.0) == 30.0
    assert _readings(world, 30.0, 90.0) == first[300:]
    assert world.restore(0.0) == 0.0
    assert _readings(world, 0.0, 90.0) == first
    with pytest.raises(ValueError, match="no snapshot at 200 s"):
        world.restore(200.0)


def test_a_world_set_back_remembers_what_was_shown_until_then() -> None:
    """Go-on is steady white: shown from 20.5 s on he opens the drain; forgotten, he would wait."""
    shown = World(draw("standpipe", 6), keeps_snapshots=True)
    shown.lamps(20.5, frozenset({"white"}))
    shown.advance_to(100.0)
    opened_s = shown.bay.ledger.stages[0].started_s
    shown.restore(20.7)
    assert not shown.bay.ledger.stages
    shown.advance_to(100.0)
    assert shown.bay.ledger.stages[0].started_s == opened_s
    shown.restore(20.3)
    shown.advance_to(100.0)
    assert not shown.bay.ledger.stages


def test_a_time_that_has_passed_does_not_run_the_world_back() -> None:
    world = World.of("standpipe", 1, follows_cues=False)
    world.advance_to(30.0)
    world.pan_skin_C(10.0)
    assert world.now_s() == 30.0


def test_a_scale_that_is_not_there_is_silent_and_has_no_counts() -> None:
    world = World.of("standpipe", 1, follows_cues=False)
    assert world.scale_fault("supply", 1.0) == "silent"
    with pytest.raises(ValueError, match="no supply scale"):
        world.bridge_counts("supply", 1.0)


def test_faults_come_and_go_as_the_scenario_says() -> None:
    world = World.of("faults", 2, follows_cues=False)
    start_s, end_s, kind = world.setup.faults.drain[0]
    assert kind == "stuck"
    assert world.scale_fault("drain", start_s - 0.1) is None
    assert world.scale_fault("drain", start_s + 0.1) == "stuck"
    assert world.scale_fault("drain", end_s + 0.1) is None


def test_a_load_creeps_by_its_share_and_the_noise_is_as_given() -> None:
    setup = ScaleSetup(creep=1e-4, creep_tau_s=100.0, bow=0.0, drift_kg=0.0, bit_errors=0.0)
    sensor = ScaleSensor(setup, seed=1)
    for k in range(1, 20001):
        sensor.step(k * 0.1, 5.0, 0.1)
    read = [(sensor.counts(2000.0 + k) - setup.offset_counts) for k in range(4000)]
    kg = [counts / setup.counts_per_kg for counts in read]
    mean = sum(kg) / len(kg)
    assert mean == pytest.approx(5.0005, abs=2e-5)
    spread = (sum((one - mean) ** 2 for one in kg) / len(kg)) ** 0.5
    assert spread == pytest.approx(setup.noise_kg, rel=0.05)


def test_one_word_in_many_has_a_wrong_bit() -> None:
    setup = ScaleSetup(bit_errors=0.01, noise_kg=0.0, drift_kg=0.0)
    sensor = ScaleSensor(setup, seed=7)
    clean = setup.ideal_counts(0.0)
    wrong = [c - clean for c in (sensor.counts(k * 0.1) for k in range(20000)) if c != clean]
    assert 140 < len(wrong) < 260
    assert {int(w) & (int(w) - 1) for w in wrong} == {0}  # powers of two
