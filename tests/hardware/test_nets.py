"""The circuit's own rules: the kit's circuit keeps them, one with a fault does not."""

from pathlib import Path

import pytest
from tests.hardware.conftest import Altered

from electrical.circuit import split
from electrical.netlist import Bench
from electrical.rules import breaches, load_mA
from electrical.units import engineering
from products import HardwareError


def test_circuit_of_the_kit_breaks_no_rule(kit: Bench) -> None:
    assert breaches(kit.circuit) == []
    assert len(kit.circuit.part) > 60
    assert len(kit.circuit.nets) > 40


FAULTS = {
    "converter's logic on 5 V": (
        (('"A2.VDD", ', ""), ('5V = ["A1.5V"', '5V = ["A1.5V", "A2.VDD"')),
        "A1.scale.drain.data bears 3.60 V, but net drain_data_pin can get to 5.25 V",
    ),
    "pan converter on 5 V": (
        (('"J4.1", "U1.VDD"', '"J4.1"'), ('5V = ["A1.5V"', '5V = ["A1.5V", "U1.VDD"')),
        "U1.VDD takes 3.0 to 3.7 V, rail 5V has 4.63 to 5.25 V",
    ),
    "1-Wire pulled up to 5 V": (
        (('"R7.1", "J4.1"', '"J4.1"'), ('5V = ["A1.5V"', '5V = ["A1.5V", "R7.1"')),
        "U1.DQ bears 3.76 V, but net one_wire can get to 5.25 V",
    ),
    "clock that nobody drives": (
        (('["R1.2", "A2.SCK"]', '["A2.SCK", "TV1.4"]'), ('"A1.scale.drain.clock", ', ""),
         ('["TV1.4", ', '["A1.scale.drain.clock", "R1.2", ')),
        "input A2.SCK floats",
    ),
    "two outputs on a net": (
        (('drain_data = ["R2.2", "A2.DOUT"]', 'drain_data = ["R2.2", "A2.DOUT", "A3.DOUT"]'),
         ('["R5.2", "A3.DOUT"]', '["R5.2", "TV2.4"]'), ('"TV2.4", ', "")),
        "net drain_data is driven by A2.DOUT and A3.DOUT",
    ),
    "output against a line that is pulled low": (
        (('"U1.DQ"]', '"U1.DQ", "A2.DOUT"]'), ('["R2.2", "A2.DOUT"]', '["R2.2", "TV1.4"]'),
         ('["TV1.4", ', "[")),
        "net one_wire is driven by A2.DOUT and U1.DQ",
    ),
    "pin forgotten": ((('"TV3.line", ', ""),), "TV3.line is in no net and not listed"),
    "pin in two nets": (
        (('red_drain = ["Q1.D"', 'red_drain = ["Q1.D", "Q2.D"'),), "Q2.D is listed 2 times"
    ),
    "net with one pin": (
        (('red_drain = ["Q1.D", "R31.1"]', 'red_drain = ["Q1.D"]'),
         ('nodes = ["TV1.4"', 'nodes = ["R31.1", "TV1.4"')),
        "net red_drain has only Q1.D",
    ),
    "ground on another net": (
        (('"Q1.S", ', ""), ('red_gate = ["R11.2"', 'red_gate = ["Q1.S", "R11.2"')),
        "Q1.S is a ground, but lies on red_gate",
    ),
    "gate with no pull-down": (
        (('"R21.1", "Q1.G"', '"Q1.G"'), ('"R21.2", ', ""),
         ('nodes = ["TV1.4"', 'nodes = ["R21.1", "R21.2", "TV1.4"')),
        "Q1.G is left to a driver that may be off: it needs a pull",
    ),
    "1-Wire with no pull-up": (
        (('"R7.2", ', ""), ('"R7.1", ', ""),
         ('nodes = ["TV1.4"', 'nodes = ["R7.1", "R7.2", "TV1.4"')),
        "U1.DQ only pulls low, and nothing pulls it up",
    ),
    "thermocouple grounded": (
        (('"TC1.-", ', ""), ('"U1.T-", ', ""), ('GND = [\n', 'GND = [\n"TC1.-", "U1.T-",')),
        "U1.T- has to be isolated, but touches GND",
    ),
    "transistor that needs a higher gate": (
        (("high_V = 2.5, needs_pull", "high_V = 4.0, needs_pull"),),
        "Q1.G needs 4.0 V to be high, and gets 3.14 V",
    ),
    "transistor that bears too little": (
        (("max_V = 30.0 }", "max_V = 5.0 }"),), "Q1.D bears 5.00 V, but net red_drain can get"
    ),
    "core between two nets": (
        (('["BK", "J4.4", "U1.DQ"]', '["BK", "J4.4", "U1.VDD"]'),),
        "W3 BK joins J4.4 and U1.VDD, which are on different nets",
    ),
    "screen at both ends": (
        (('["screen", "J2.5", ""]', '["screen", "J2.5", "LC1.E-"]'),),
        "W1 has a screen that is not on ground at one end only",
    ),
    "thin supply lead": (
        (("mm2 = 0.75", "mm2 = 0.25"),), "W7 leaves A1.inlet 5V 4.38 V, it takes 4.63 V or more"
    ),
    "supply with no range": (
        (("min_V = 3.0, max_V = 3.7", "max_V = 3.7"),), "U1.VDD is a supply with no range"
    ),
    "rail overloaded": ((("limit_mA = 50.0", "limit_mA = 20.0"),), "rail 3V3 gives 20.0 mA"),
    "fuse too small": (
        (("max_ohm = 7.5", "max_ohm = 75.0"),), "rail 3V3_POD promises more than F2 leaves"
    ),
    "rail behind another fuse": (
        (('behind = "F2"', 'behind = "F1"'),), "rail 3V3_POD is not behind F1"
    ),
    "rail with no source": (
        (('5V_IN = ["PS1.5V", ', '5V_IN = ["TV1.4", '), ('nodes = ["TV1.4"', 'nodes = ["PS1.5V"')),
        "rail 5V_IN has no source",
    ),
}  # fmt: skip


@pytest.mark.parametrize("fault", FAULTS)
def test_fault_is_found_and_named(fault: str, altered: Altered) -> None:
    changes, says = FAULTS[fault]
    found = breaches(altered(nets=changes).circuit)
    assert any(line.startswith(says) for line in found), found


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('"A1.lamp.red"', '"A1.lamp.green"', "there is no pin A1.lamp.green"),
        ('"R11.1"', '"R99.1"', "there is no pin R99.1"),
        ('kind = "fuse"', 'kind = "fuze"', "F1 is of the unknown kind fuze"),
        ('refs = ["F2"]', 'refs = ["F1"]', "F1 is there twice"),
        ('ref = "W2"', 'ref = "W1"', "W1 is there twice"),
        ('type = "open_drain"', 'type = "open"', "open"),
        ("[limits]", "[limit]", "limit"),
    ],
)
def test_circuit_that_names_nothing_is_refused(
    old: str, new: str, says: str, altered: Altered
) -> None:
    with pytest.raises(HardwareError, match=says):
        altered(nets=((old, new),))


def test_load_of_the_rail_is_that_of_cells_converters_and_pull_ups(kit: Bench) -> None:
    # Ohm's law: two bridges of 350 ohm, converters at 1.5 mA, pull-ups 4 x 10 k and 2.2 k
    # at 3.46 V held low; the data sheet of the type says below 1.5 mA (from memory)
    by_hand_mA = 2 * (1000 * 3.46 / 350 + 1.5) + 4 * 0.346 + 1000 * 3.46 / 2200 + 1.5
    assert load_mA(kit.circuit, "3V3") == pytest.approx(by_hand_mA, abs=0.1)


def test_drop_of_the_supply_lead_is_that_of_copper(kit: Bench) -> None:
    # Ohm's law, 0.0175 ohm mm2/m (handbook, from memory): 2 x 2 m of 0.75 mm2 at 2.2 A
    lead = next(cable for cable in kit.circuit.cables if cable.ref == "W7")
    assert lead.loop_ohm * 2.2 == pytest.approx(2 * 2.0 * 0.0175 / 0.75 * 2.2)


def test_every_part_hangs_on_something(kit: Bench) -> None:
    joined = {split(node)[0] for node in kit.circuit.net}
    assert joined == set(kit.circuit.part)


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [(330.0, "Ω", "330 Ω"), (2200.0, "Ω", "2.2 kΩ"), (1e5, "Ω", "100 kΩ"), (1e-7, "F", "100 nF"),
     (10e-6, "F", "10 µF"), (1e6, "Ω", "1 MΩ"), (4.7e-12, "F", "4.7 pF")],
)  # fmt: skip
def test_values_are_written_with_their_prefix(value: float, unit: str, text: str) -> None:
    assert engineering(value, unit) == text


def test_value_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="no value of a part"):
        engineering(0.0, "Ω")


def test_sources_carry_their_licence() -> None:
    folder = Path(__file__).parents[2] / "hardware"
    assert (
        (folder / "nets.toml").read_text().startswith("# SPDX-License-Identifier: CERN-OHL-P-2.0\n")
    )
