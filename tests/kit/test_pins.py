"""The wiring table against the board, the design's rules and the page that shows it."""

from pathlib import Path

import pytest
from gpiozero.pins.pi import PiBoardInfo

from drainscale.errors import InputError
from drainscale.pins import HEADER_PLACES, pins, read_pins, wiring_table
from drainscale.ports import LAMPS

ROOT = Path(__file__).parents[2]
TABLE = (ROOT / "firmware" / "drainscale" / "pins.toml").read_text(encoding="utf-8")


def test_page_shows_the_table_that_the_drivers_read() -> None:
    page = (ROOT / "docs" / "reference" / "wiring.md").read_text(encoding="utf-8")
    assert wiring_table(pins()) in page
    assert f"BCM {', '.join(map(str, pins().kept_free))} are kept free" in page
    assert f"gpiopin={pins().one_wire.bus}" in page


def test_lamps_are_those_that_the_port_knows_from_top_to_bottom() -> None:
    assert tuple(pins().lamps()) == LAMPS


def test_header_has_each_place_once_and_none_of_supply_or_ground() -> None:
    # Raspberry Pi documentation, "GPIO and the 40-pin header" (from memory)
    supply_and_ground = {1, 2, 4, 6, 9, 14, 17, 20, 25, 30, 34, 39}
    assert set(HEADER_PLACES.values()) == set(range(1, 41)) - supply_and_ground
    assert set(HEADER_PLACES) == set(range(28))


def test_header_places_agree_with_those_of_another_library() -> None:
    # gpiozero's own table of the header, for the revision code of a Zero 2 W
    header = PiBoardInfo.from_revision(0x902120).headers["J8"]
    places = {pin.name: pin.number for pin in header.pins.values()}
    assert {bcm: places[f"GPIO{bcm}"] for bcm in HEADER_PLACES} == HEADER_PLACES


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("red = 22", "red = 23", "BCM 23 is used 2 times"),
        ("closes = 6", "closes = 7", "BCM 7 is to be kept free"),
        ("drive = 12", "drive = 13", "the list of pins and the pins in use differ"),
        ("clock = 10", "clock = 20", "used 2 times"),
        ("spi_bus = 1", "spi_bus = 0", "not the data lines of SPI0"),
        ("header = 31", "header = 33", "BCM 6 is not at place 33"),
        ('boot = "high"\npart = "2.2', 'boot = "low"\npart = "2.2', "BCM 4 does not boot low"),
        ('part = "10 kΩ to 3.3 V, 330 Ω in series"', 'part = "none"', "does not boot high"),
        ('direction = "both"', 'direction = "in"', "used as both, listed as in"),
        ("version = 1", 'version = "one"', "version"),
        ("[sounder]", "[sounders]", "sounder"),
    ],
)
def test_wiring_that_breaks_a_rule_is_refused(old: str, new: str, says: str) -> None:
    assert old in TABLE
    with pytest.raises(InputError, match=says):
        read_pins(TABLE.replace(old, new, 1))


def test_output_that_boots_high_is_refused() -> None:
    swapped = (
        TABLE.replace("drive = 12", "drive = 5")
        .replace("opens = 5", "opens = 12")
        .replace("bcm = 12\nheader = 32", "bcm = 99\nheader = 99")
        .replace("bcm = 5\nheader = 29", "bcm = 12\nheader = 32")
        .replace("bcm = 99\nheader = 99", "bcm = 5\nheader = 29")
    )
    with pytest.raises(InputError, match="BCM 5 drives something, but boots pulled up"):
        read_pins(swapped)
