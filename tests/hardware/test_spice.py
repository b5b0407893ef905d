"""The driver stages, simulated: their limits kept, and broken where something is left out."""

import math

import pytest
from tests.hardware.conftest import Altered

from electrical.decks import BRIGHT, DIM, head_deck, lead_ohm, one_wire_deck, sounder_deck
from electrical.findings import Finding, findings, pitches_Hz
from electrical.netlist import Bench
from electrical.simulation import measure
from products import ROOT, HardwareError


@pytest.fixture(scope="module")
def simulated(kit: Bench) -> list[Finding]:
    return findings(kit)


def broken(found: list[Finding]) -> list[str]:
    return [finding.name for finding in found if not finding.is_kept]


def figure(found: list[Finding], name: str) -> float:
    return next(finding.value for finding in found if finding.name == name)


def test_every_stage_keeps_its_limits(simulated: list[Finding]) -> None:
    assert broken(simulated) == []
    names = [finding.name for finding in simulated]
    assert len(names) == len(set(names)) > 40


@pytest.mark.parametrize("colour", ["red", "amber", "blue", "white"])
def test_lamp_current_is_that_of_the_loop_law(
    colour: str, kit: Bench, simulated: list[Finding]
) -> None:
    # Kirchhoff and Ohm: (supply - forward voltage) / (all that is in series), forward voltage taken
    # at 0.1 A, so good to some percent
    lamp = next(p for p in kit.circuit.parts if p.colour == colour)
    ohm = {"red": 30.0, "amber": 30.0, "blue": 18.0, "white": 18.0}[colour] * 0.99
    expected_mA = 1000 * (5.25 - lamp.figures["vf_min_V"]) / (ohm + 0.1)
    assert figure(simulated, f"{colour} lamp, bright") == pytest.approx(expected_mA, rel=0.03)


def test_brightest_and_dimmest_of_the_colours_differ_by_less_than_two(
    simulated: list[Finding],
) -> None:
    lamps = ("red", "amber", "blue", "white")
    bright = [figure(simulated, f"{name} lamp, bright") for name in lamps]
    dim = [figure(simulated, f"{name} lamp, dim") for name in lamps]
    assert max(bright) < 2.0 * min(dim)


def test_rise_of_the_bus_is_that_of_a_resistor_and_a_capacitor(
    kit: Bench, simulated: list[Finding]
) -> None:
    # t = R C ln((V - 0.4) / (V - 2.2)): cable 3 m x 80 pF and suppressor 50 pF on 2.2 k + 100 ohm
    by_hand_us = 1e6 * 1.01 * (2200 + 100) * 290e-12 * math.log((3.0 - 0.4) / (3.0 - 2.2))
    assert figure(simulated, "1-Wire, rise") == pytest.approx(by_hand_us, rel=0.05)


def test_bus_with_a_weak_pull_up_is_too_slow(altered: Altered) -> None:
    weak = altered(nets=(("ohm = 2200.0", "ohm = 10000.0"),))
    assert broken(findings(weak)) == ["1-Wire, rise"]


def test_bus_with_a_long_cable_is_too_slow(altered: Altered) -> None:
    long = altered(
        nets=(("length_m = 3.0\nmm2 = 0.25\npF_per_m", "length_m = 12.0\nmm2 = 0.25\npF_per_m"),)
    )
    assert measure(one_wire_deck(long))["rise_s"] > 2e-6


def test_sounder_without_its_diode_breaks_its_limit(kit: Bench) -> None:
    limit_V = kit.circuit.limits.sounder_peak_V
    for pitch_Hz in pitches_Hz():
        assert measure(sounder_deck(kit, pitch_Hz))["peak_v"] < limit_V
        assert measure(sounder_deck(kit, pitch_Hz, without=["D1"]))["peak_v"] > 10 * limit_V


def test_small_resistor_is_found_too_hot_and_its_lamp_too_bright(altered: Altered) -> None:
    small = altered(nets=(("ohm = 18.0, rating_W = 1.0", "ohm = 15.0, rating_W = 0.5"),))
    assert {"blue lamp, bright", "15 Ω resistor of the blue lamp, bright"} <= set(
        broken(findings(small))
    )


def test_small_fuse_is_found_to_be_too_small_for_a_warm_box(altered: Altered) -> None:
    small = altered(nets=(("hold_mA = 1100.0", "hold_mA = 750.0"),))
    assert broken(findings(small)) == ["fuse of the head, bright"]


def test_small_gate_resistor_is_found_to_load_the_pin(altered: Altered) -> None:
    small = altered(nets=(("figures = { ohm = 470.0", "figures = { ohm = 100.0"),))
    assert "red pin, dim" in broken(findings(small))


def test_deck_follows_the_values_of_the_circuit(altered: Altered, kit: Bench) -> None:
    other = altered(nets=(("ohm = 30.0", "ohm = 33.0"),))
    assert "RR31 red_drain red_lamp 30.3\n" in head_deck(kit, DIM)
    assert "RR31 red_drain red_lamp 33.33\n" in head_deck(other, DIM)
    assert head_deck(kit, BRIGHT) != head_deck(kit, DIM)


def test_lead_counts_there_and_back(kit: Bench) -> None:
    # 0.0175 ohm mm2/m: 2 x 3 m of 0.25 mm2 are 0.42 ohm (handbook, from memory)
    assert lead_ohm(kit.circuit, "LD1") == pytest.approx(0.42)
    assert lead_ohm(kit.circuit, "R1") == 0.0


def test_deck_that_fails_is_no_result() -> None:
    with pytest.raises(HardwareError, match="measured no peak_v"):
        measure("* nothing\n.meas tran peak_V max v(nowhere)\n.tran 1u 1m\n.end\n")


def test_missing_simulator_is_named(monkeypatch: pytest.MonkeyPatch, kit: Bench) -> None:
    monkeypatch.setenv("PATH", "")
    with pytest.raises(HardwareError, match="ngspice is not there: `apt-get install ngspice`"):
        measure(one_wire_deck(kit))


def test_what_shared_ground_costs_is_reckoned_right(simulated: list[Finding]) -> None:
    # Ohm: the lamps' current through 5 mohm, against the 3.3 V that the bridge is fed with
    volt = figure(simulated, "all lit and sounding, bright") / 1000.0 * 5e-3
    assert volt == pytest.approx(3e-3, rel=0.1)
    assert volt / 3.3 * 5000.0 == pytest.approx(5.0, rel=0.1)  # g in 5 kg
    page = (ROOT / "hardware/wiring/carrier.md").read_text(encoding="utf-8")
    assert "0.6 A through 5 mΩ of shared copper are 3 mV" in page
    assert "J2.4 goes by its own wire to A2.E-" in page
