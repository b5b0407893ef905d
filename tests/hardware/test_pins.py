"""The rules of the pin map, each with its source; and one changed pin is changed everywhere."""

import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from gpiozero.pins.pi import PiBoardInfo
from tests.hardware.conftest import Altered

from drainscale.drivers.gpio import GpioChip, GpioIndicator
from drainscale.pins import LAST_PULLED_UP_AT_BOOT, pins, read_pins, wiring_table
from drainscale_sim.board.hand_set_world import HandSetWorld
from drainscale_sim.board.simulated_board import SimulatedBoard
from electrical.circuit import split
from electrical.harness import harnesses, yaml_text
from electrical.netlist import POWER_PLACES, Bench, signals
from electrical.rules import breaches
from electrical.schematics import lamps
from electrical.stages import parts_at_pin, stage
from electrical.steps import WIRING_PAGE, schematic, simulation, wiring
from electrical.tables import netlist_csv
from products import ROOT, Product, svg_words

ZERO_2_W = 0x902120


def board_pins() -> list[Any]:
    return list(PiBoardInfo.from_revision(ZERO_2_W).headers["J8"].pins.values())


@cache
def header() -> dict[str, tuple[int, frozenset[str]]]:
    """Place and other uses of each pin, from gpiozero's own table of the board."""
    return {pin.name: (pin.number, pin.interfaces) for pin in board_pins()}


def test_numbers_and_places_are_those_of_the_board(kit: Bench) -> None:
    # gpiozero's table of the header, an independent library
    assert {pin.bcm: pin.header for pin in kit.pins.pin} == {
        bcm: header()[f"GPIO{bcm}"][0] for _, bcm in signals(kit.pins).items()
    }


def test_supply_and_ground_lie_where_the_board_has_them() -> None:
    # gpiozero's table of the header, an independent library
    for rail, places in POWER_PLACES.items():
        assert {pin.number for pin in board_pins() if pin.name == rail} == set(places)


def test_every_pin_serves_one_signal(kit: Bench) -> None:
    numbers = [bcm for _, bcm in signals(kit.pins).items()]
    assert len(numbers) == len(set(numbers)) == 12


def test_outputs_are_low_at_boot(kit: Bench) -> None:
    # BCM2835 ARM Peripherals, table 6-31: GPIO 9 to 27 are pulled down after reset (from memory);
    # and nothing that is soldered on pulls them up
    for bcm in kit.pins.outputs():
        assert LAST_PULLED_UP_AT_BOOT < bcm <= 27
    for name, bcm in signals(kit.pins).items():
        if bcm in kit.pins.outputs():
            assert "3.3 V" not in parts_at_pin(kit.circuit, name)


def test_inputs_that_boot_pulled_down_have_an_external_pull_up(kit: Bench) -> None:
    # the same table; a low data line of the converter reads as "ready" (data sheet, from memory)
    low = {name for name, bcm in signals(kit.pins).items() if bcm in kit.pins.inputs() and bcm > 8}
    assert low == {"scale.drain.data", "scale.supply.data"}
    for name in low:
        assert "10 kΩ to 3.3 V" in parts_at_pin(kit.circuit, name)


def test_bus_and_foot_switch_do_not_lean_on_the_pull_ups_inside(kit: Bench) -> None:
    # some 50 kohm inside (BCM2835, from memory) are too weak for 3 m of cable: own resistors
    assert "2.2 kΩ to 3.3 V" in parts_at_pin(kit.circuit, "one_wire.bus")
    for name in ("closes", "opens"):
        assert "10 kΩ to 3.3 V" in parts_at_pin(kit.circuit, f"foot_switch.{name}")


@pytest.mark.parametrize(
    ("numbers", "use"),
    [((0, 1), "add-on boards"), ((2, 3), "i2c"), ((14, 15), "uart"), ((7, 8, 11), "spi")],
)  # fmt: skip
def test_pins_of_the_boards_own_are_free(numbers: tuple[int, ...], use: str, kit: Bench) -> None:
    # Raspberry Pi documentation: 0 and 1 are reserved for the EEPROM of add-on boards (from
    # memory); the others as gpiozero's table has them
    for bcm in numbers:
        assert bcm in kit.pins.kept_free
        assert bcm not in {number for _, number in signals(kit.pins).items()}
        assert bcm < 2 or use in header()[f"GPIO{bcm}"][1]


def test_each_load_cell_has_an_spi_bus_of_its_own(kit: Bench) -> None:
    scales = kit.pins.scale
    assert scales.drain.spi_bus != scales.supply.spi_bus
    for scale in (scales.drain, scales.supply):
        for bcm in (scale.clock, scale.data):
            # gpiozero's table of the header
            assert "spi" in header()[f"GPIO{bcm}"][1]


def test_words_about_soldered_parts_are_those_of_the_circuit(kit: Bench) -> None:
    of_bcm = {bcm: name for name, bcm in signals(kit.pins).items()}
    for pin in kit.pins.pin:
        assert pin.part == parts_at_pin(kit.circuit, of_bcm[pin.bcm])


def test_words_follow_a_changed_value(altered: Altered) -> None:
    other = altered(nets=(("ohm = 2200.0", "ohm = 4700.0"),))
    assert parts_at_pin(other.circuit, "one_wire.bus") == "4.7 kΩ to 3.3 V, 100 Ω in series"


# --- one pin changed: the red lamp from BCM 22 (place 15) to BCM 26 (place 37) -------------------


def test_netlist_follows_the_pin(kit: Bench, red_on_26: Bench) -> None:
    assert kit.circuit.net["J1.15"] == "red_pin"
    assert red_on_26.circuit.net["J1.37"] == "red_pin"
    assert "J1.15" not in red_on_26.circuit.net
    assert breaches(red_on_26.circuit) == []
    assert "red_pin,J1,37\n" in netlist_csv(red_on_26.circuit)


def test_harness_follows_the_pin(kit: Bench, red_on_26: Bench) -> None:
    before, after = (yaml_text(harnesses(bench)["header"]) for bench in (kit, red_on_26))
    assert "'BCM 22: lamp red'" in before
    assert "'BCM 26: lamp red'" in after
    assert "BCM 22, spare" in after


def test_schematic_follows_the_pin(kit: Bench, red_on_26: Bench) -> None:
    assert "A1 BCM 22 J1.15" in svg_words(lamps(kit).encode())
    after = svg_words(lamps(red_on_26).encode())
    assert "A1 BCM 26 J1.37" in after
    assert "A1 BCM 22 J1.15" not in after


def test_page_of_the_documentation_follows_the_pin(red_on_26: Bench) -> None:
    page = (ROOT / WIRING_PAGE).read_text(encoding="utf-8")
    assert "| lamp red | 22 | 15 |" in page
    assert "| lamp red | 26 | 37 |" in wiring_table(red_on_26.pins)


def test_firmware_takes_the_file_of_the_package() -> None:
    text = (ROOT / "firmware" / "drainscale" / "pins.toml").read_text(encoding="utf-8")
    assert pins() == read_pins(text)


def test_driver_and_simulated_board_follow_the_pin(red_on_26: Bench, tmp_path: Path) -> None:
    world = HandSetWorld()
    with SimulatedBoard(world, tmp_path, wiring=red_on_26.pins).installed():
        chip = GpioChip()
        lamps_on_pins = GpioIndicator(red_on_26.pins, chip)
        lamps_on_pins.show(frozenset({"red"}))
        lamps_on_pins.close()
        chip.close()
    assert [lit for _, lit in world.seen] == [{"red"}, set()]


def test_board_that_is_wired_otherwise_shows_nothing(red_on_26: Bench, tmp_path: Path) -> None:
    world = HandSetWorld()
    with SimulatedBoard(world, tmp_path).installed():
        chip = GpioChip()
        lamps_on_pins = GpioIndicator(red_on_26.pins, chip)
        lamps_on_pins.show(frozenset({"red"}))
        lamps_on_pins.close()
        chip.close()
    assert world.seen == []


def test_one_changed_pin_is_found_in_every_kept_file(red_on_26: Bench) -> None:
    products = [*wiring(red_on_26), *schematic(red_on_26)]
    differing = {product.path for product in products if differs(product)}
    assert differing == {
        "hardware/wiring/header.yml",
        "hardware/wiring/header.svg",
        "hardware/wiring/header.png",
        "hardware/wiring/carrier.md",
        "hardware/schematic/lamps.svg",
        "hardware/schematic/netlist.csv",
        WIRING_PAGE,
    }


def test_one_changed_value_is_found_in_drawing_and_deck(altered: Altered) -> None:
    other = altered(nets=(("ohm = 30.0", "ohm = 33.0"),))
    products = [*schematic(other), *simulation(other)]
    assert {product.path for product in products if differs(product)} == {
        "hardware/schematic/lamps.svg",
        "hardware/spice/lamps-bright.cir",
        "hardware/spice/lamps-dim.cir",
        "hardware/spice/results.csv",
    }


def differs(product: Product) -> bool:
    kept = (ROOT / product.path).read_bytes()
    return product.meaning(kept) != product.meaning(product.content)


def test_every_part_of_the_circuit_is_on_a_sheet(kit: Bench) -> None:
    folder = ROOT / "hardware" / "schematic"
    words = " ".join(w for path in folder.glob("*.svg") for w in svg_words(path.read_bytes()))
    drawn = set(re.findall(r"\b[A-Z]{1,2}\d{1,2}\b", words))
    assert set(kit.circuit.part) <= drawn


def test_stage_ends_where_the_plug_is(kit: Bench) -> None:
    found = stage(kit.circuit, "lamp.red")
    assert found.refs == ("R11", "R21", "Q1", "R31", "LD1")
    assert {split(node)[0] for node in kit.circuit.nets["red_lamp"]} == {"R31", "J5", "LD1"}
