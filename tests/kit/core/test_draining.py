"""What is drained, by stage: no hand, knock or change of container enters it."""

from dataclasses import replace

import pytest
from tests.kit.core.bench import JOB, STREAM_M_PER_S, Bench, answered, listened, shown, times


def ready(**setting: float) -> Bench:
    """A container stands there and the drain is about to be opened."""
    bench = Bench(**setting)  # type: ignore[arg-type]  # a test's numbers, by name
    bench.mark("prepare")
    bench.wait(4.0)
    bench.place(0.9)
    bench.wait(12.0)
    bench.mark("drain")
    return bench


def drained_g(bench: Bench) -> float:
    return 1000.0 * float(answered(bench)["drained"]["mass_kg"])


def test_the_mass_is_the_true_one_air_buoyancy_removed() -> None:
    """OIML D 28: 2.2 kg of oil show as 2.1972 kg; told within a gram."""
    bench = ready()
    bench.open_drain(kg=2.2, tau_s=25.0)
    bench.wait(200.0)
    assert 1000.0 * (bench.drained_kg - shown(bench.drained_kg)) == pytest.approx(2.8, abs=0.1)
    assert drained_g(bench) == pytest.approx(1000.0 * bench.drained_kg, abs=0.7)


def test_a_falling_streams_momentum_cancels_in_the_difference() -> None:
    """Reading minus what has left = flow x v1 / g: 9 g at 0.088 kg/s, none at the end
    (momentum theorem; at 42.5 g/s and 1 m/s 4.3338 g)."""
    assert pytest.approx(4.3338, abs=0.0001) == 42.5 * STREAM_M_PER_S / 9.80665
    bench = ready(noise_kg=0.00002)
    bench.open_drain(kg=2.2, tau_s=25.0)
    bench.wait(240.0)
    assert drained_g(bench) == pytest.approx(1000.0 * bench.drained_kg, abs=0.4)


def test_two_stages_are_weighed_apart_where_the_second_flow_starts() -> None:
    bench = ready()
    bench.open_drain(kg=2.2, tau_s=20.0)
    bench.wait(120.0)
    bench.mark("drain-pan")
    bench.wait(3.0)
    first_kg = bench.drained_kg
    bench.open_drain(kg=0.5, tau_s=12.0)
    bench.wait(120.0)
    stages = answered(bench)["drained"]["stages"]
    assert [stage["step"] for stage in stages] == ["drain", "drain-pan"]
    assert stages[0]["mass_kg"] == pytest.approx(first_kg, abs=0.0015)
    assert stages[1]["mass_kg"] == pytest.approx(bench.drained_kg - first_kg, abs=0.0015)
    assert stages[1]["started_s"] == pytest.approx(bench.started_s["drain 1"], abs=0.5)


def test_a_check_plug_unit_has_one_stage() -> None:
    job = replace(JOB, procedure=replace(JOB.procedure, level_method="check-plug"))
    bench = Bench(job=job)
    bench.wait(4.0)
    bench.place(0.9)
    bench.wait(12.0)
    bench.open_drain(kg=2.2, tau_s=20.0)
    bench.wait(90.0)
    bench.open_drain(kg=0.5, tau_s=12.0)
    bench.wait(90.0)
    stages = answered(bench)["drained"]["stages"]
    assert [stage["step"] for stage in stages] == ["drain"]
    assert stages[0]["mass_kg"] == pytest.approx(bench.drained_kg, abs=0.001)


@pytest.mark.parametrize("seconds", [2.0, 40.0])
def test_knocks_and_touches_do_not_enter_the_mass(seconds: float) -> None:
    bench = ready()
    bench.open_drain(kg=2.2, tau_s=25.0)
    bench.wait(seconds)
    bench.knock()
    bench.wait(6.0)
    bench.touch()
    bench.wait(150.0)
    answer = answered(bench)
    assert answer["drained"]["mass_kg"] == pytest.approx(bench.drained_kg, abs=0.001)
    assert len(times(answer, "disturbed")) >= 2


@pytest.mark.parametrize(("after_s", "within_g"), [(60.0, 12.0), (120.0, 2.0)])
def test_a_tool_left_on_the_container_is_no_oil(after_s: float, within_g: float) -> None:
    """What runs while it is laid down, some seconds at 8 g/s, is not known any better."""
    bench = ready()
    bench.open_drain(kg=2.2, tau_s=25.0)
    bench.wait(after_s)
    bench.add_kg(0.35)
    bench.wait(150.0)
    assert drained_g(bench) == pytest.approx(1000.0 * bench.drained_kg, abs=within_g)


def test_the_same_container_lifted_and_put_back_keeps_what_ran_meanwhile() -> None:
    """It was held under the stream: nothing fell beside."""
    bench = ready()
    bench.open_drain(kg=2.2, tau_s=25.0)
    bench.wait(90.0)
    before_kg = bench.drained_kg
    kg = bench.lift()
    bench.wait(5.0)
    bench.place(kg + shown(bench.drained_kg - before_kg))
    bench.wait(100.0)
    answer = answered(bench)
    assert answer["drained"]["mass_kg"] == pytest.approx(bench.drained_kg, abs=0.0015)
    assert len(times(answer, "lifted")) == 1
    assert len(times(answer, "placed")) == 2


def test_what_fell_beside_at_a_swap_is_bridged_with_half_of_it_as_uncertainty() -> None:
    bench = ready()
    bench.open_drain(kg=3.0, tau_s=30.0)
    bench.wait(45.0)
    bench.lift()
    bench.wait(3.0)
    bench.place(1.4)
    bench.wait(200.0)
    assert bench.beside_kg > 0.05
    drained = answered(bench)["drained"]
    error_L = drained["mass_kg"] / 0.843 - bench.drained_kg / 0.843
    assert abs(error_L) <= drained["U_volume_L"]
    assert drained["U_volume_L"] >= 0.8 * bench.beside_kg / 0.843


def test_the_drip_is_dated_back_to_when_the_flow_fell_below_the_limit() -> None:
    """3 mL/min of film_kg / (2 film_s) (1 + t / film_s)^-3/2 (derivative of Jeffreys' volume)."""
    bench = ready(noise_kg=0.00005)
    drain = bench.open_drain(kg=2.2, tau_s=12.0, film_kg=0.03)
    limit_kg_per_s = 3.0e-6 / 60.0 * 843.0
    due_s = drain.film_s * ((drain.film_kg / 2.0 / drain.film_s / limit_kg_per_s) ** (2 / 3) - 1.0)
    bench.wait(due_s + 120.0)
    answer = answered(bench)
    dripped_s = answer["drained"]["stages"][0]["dripped_s"]
    assert dripped_s == pytest.approx(bench.started_s["drain 0"] + due_s, abs=25.0)
    assert len(times(answer, "dripped")) == 1
    assert dripped_s <= times(answer, "dripped")[0]


def test_a_stage_that_was_ended_before_has_no_drip() -> None:
    bench = ready()
    bench.open_drain(kg=2.2, tau_s=25.0)
    bench.wait(50.0)
    bench.shut()
    bench.mark("refit")
    bench.wait(60.0)
    assert answered(bench)["drained"]["stages"][0]["dripped_s"] is None


def test_a_container_that_gets_full_is_told_at_ninety_percent() -> None:
    """8 L hold 90 % at 7.2 L; with 5 L in it at the start 2.2 L are left."""
    bench = ready()
    bench.job = replace(JOB, container=replace(JOB.container, start_L=5.0))
    drain = bench.open_drain(kg=2.2, tau_s=25.0)
    bench.wait(120.0)
    full = times(answered(bench), "container-full")
    assert len(full) == 1
    ran_kg = drain.ran_kg(full[0] - bench.started_s["drain 0"])
    assert ran_kg / 0.843 == pytest.approx(2.2, abs=0.05)


def test_the_course_of_the_flow_is_found_without_any_mark() -> None:
    bench = Bench()
    bench.wait(4.0)
    bench.place(0.9)
    bench.wait(12.0)
    bench.open_drain(kg=2.2, tau_s=25.0)
    bench.wait(100.0)
    answer = answered(bench)
    assert [step["step"] for step in answer["steps"]] == ["prepare", "drain"]
    assert answer["steps"][1]["started_s"] == pytest.approx(bench.started_s["drain 0"], abs=0.5)


def test_nothing_drained_is_null_and_no_zero() -> None:
    bench = ready()
    bench.wait(60.0)
    drained = answered(bench)["drained"]
    assert drained["mass_kg"] is None
    assert drained["volume_L"] is None
    assert drained["stages"] == []


def test_a_container_that_stood_there_from_the_start_is_weighed_as_well() -> None:
    bench = Bench(load_kg=0.9)
    bench.wait(15.0)
    bench.mark("drain")
    bench.open_drain(kg=2.2, tau_s=25.0)
    bench.wait(150.0)
    answer = answered(bench)
    assert times(answer, "placed") == []
    assert answer["drained"]["mass_kg"] == pytest.approx(bench.drained_kg, abs=0.001)


def test_the_flow_of_the_moment_is_the_one_that_runs() -> None:
    """In the bulk, which keeps to no tail's law, as in the film behind it."""
    bench = Bench()
    bench.place(0.9)
    bench.wait(10.0)
    drain = bench.open_drain(kg=2.2, tau_s=25.0)
    per_mL = JOB.fluid.density_kg_per_m3 / 1e6
    for age_s, share in ((10.0, 0.06), (20.0, 0.06), (40.0, 0.06), (120.0, 0.25)):
        bench.wait(age_s - drain.age_s)
        true = (drain.ran_kg(age_s) - drain.ran_kg(age_s - 1.0)) / per_mL * 60.0
        assert listened(bench).live().flow_mL_per_min == pytest.approx(true, rel=share)


def test_what_is_still_to_come_is_told_once_a_tail_is_seen() -> None:
    bench = Bench()
    bench.place(0.9)
    bench.wait(10.0)
    drain = bench.open_drain(kg=2.2, tau_s=25.0)
    for _ in range(10):
        bench.wait(1.4)
        assert listened(bench).live().still_to_come_mL is None
    bench.wait(190.0 - drain.age_s)
    to_come_mL = (2.23 - drain.ran_kg(190.0)) / JOB.fluid.density_kg_per_m3 * 1e6
    told_mL = listened(bench).live().still_to_come_mL
    assert told_mL is not None
    assert 0.5 < told_mL / to_come_mL < 2.0
