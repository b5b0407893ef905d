"""The bench's wiring, read from ``pins.toml`` and held to what the board can do."""

from collections import Counter
from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from typing import Literal

import msgspec

from drainscale.errors import InputError

# The 40-way header of every board since the B+: place of each BCM number.
# Source: Raspberry Pi documentation, "GPIO and the 40-pin header" (from memory).
HEADER_PLACES = {
    2: 3, 3: 5, 4: 7, 14: 8, 15: 10, 17: 11, 18: 12, 27: 13, 22: 15, 23: 16, 24: 18, 10: 19, 9: 21,
    25: 22, 11: 23, 8: 24, 7: 26, 0: 27, 1: 28, 5: 29, 6: 31, 12: 32, 13: 33, 19: 35, 16: 36,
    26: 37, 20: 38, 21: 40,
}  # fmt: skip
LAST_PULLED_UP_AT_BOOT = 8  # BCM 0 to 8 boot pulled up, 9 to 27 pulled down (Broadcom BCM2835
# ARM Peripherals, table 6-31, from memory)
# data out (which clocks the converter) and data in of the two SPI controllers: same table
SPI_PINS = {0: (10, 9), 1: (20, 19)}


class ScalePins(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One load cell's converter."""

    clock: int
    data: int
    spi_bus: int
    spi_device: int


class OneWirePin(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The 1-Wire bus; the kernel drives it."""

    bus: int


class LampPins(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The lamps, from top to bottom."""

    red: int
    amber: int
    blue: int
    white: int


class SounderPin(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The sounder."""

    drive: int


class FootSwitchPins(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The two contacts of the foot switch, both to ground."""

    closes: int
    opens: int


class ScalesPins(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Both scales."""

    drain: ScalePins
    supply: ScalePins


class Pin(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What is soldered to one pin."""

    bcm: int
    header: int
    signal: str
    direction: Literal["in", "out", "both"]
    boot: Literal["low", "high"]
    part: str


class Pins(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The whole wiring."""

    version: int
    kept_free: tuple[int, ...]
    scale: ScalesPins
    one_wire: OneWirePin
    lamp: LampPins
    sounder: SounderPin
    foot_switch: FootSwitchPins
    pin: tuple[Pin, ...]

    def lamps(self) -> dict[str, int]:
        """Return the pin of each lamp, from top to bottom."""
        return {name: getattr(self.lamp, name) for name in LampPins.__struct_fields__}

    def outputs(self) -> tuple[int, ...]:
        """Return the pins that the kit drives."""
        scales = (self.scale.drain.clock, self.scale.supply.clock)
        return (*scales, *self.lamps().values(), self.sounder.drive)

    def inputs(self) -> tuple[int, ...]:
        """Return the pins that the kit listens to."""
        scales = (self.scale.drain.data, self.scale.supply.data)
        return (*scales, self.foot_switch.closes, self.foot_switch.opens)


@cache
def pins() -> Pins:
    """Return the kit's own wiring."""
    return read_pins(files("drainscale").joinpath("pins.toml").read_text(encoding="utf-8"))


def read_pins(text: str) -> Pins:
    """Read a wiring and check it.

    Raises:
        InputError: It is no wiring, or breaks a rule; names which.
    """
    try:
        read = msgspec.toml.decode(text, type=Pins)
    except msgspec.DecodeError as error:
        raise InputError(f"pins: {error}") from error
    broken = next(_breaches(read), None)
    if broken is not None:
        raise InputError(f"pins: {broken}")
    return read


def _breaches(read: Pins) -> Iterator[str]:
    used = (*read.outputs(), *read.inputs(), read.one_wire.bus)
    for bcm, times in Counter(used).items():
        if times > 1:
            yield f"BCM {bcm} is used {times} times"
        if bcm in read.kept_free:
            yield f"BCM {bcm} is to be kept free"
    if sorted(pin.bcm for pin in read.pin) != sorted(used):
        yield "the list of pins and the pins in use differ"
    for bcm in read.outputs():
        if bcm <= LAST_PULLED_UP_AT_BOOT:
            yield f"BCM {bcm} drives something, but boots pulled up"
    for scale in (read.scale.drain, read.scale.supply):
        if SPI_PINS.get(scale.spi_bus) != (scale.clock, scale.data):
            yield f"BCM {scale.clock} and {scale.data} are not the data lines of SPI{scale.spi_bus}"
    for pin in read.pin:
        yield from _breaches_of_pin(read, pin)


def _breaches_of_pin(read: Pins, pin: Pin) -> Iterator[str]:
    if HEADER_PLACES.get(pin.bcm) != pin.header:
        yield f"BCM {pin.bcm} is not at place {pin.header} of the header"
    if pin.direction != _direction(read, pin.bcm):
        yield f"BCM {pin.bcm} is used as {_direction(read, pin.bcm)}, listed as {pin.direction}"
    pulled_by_part = "to 3.3 V" in pin.part
    boots_high = pulled_by_part or pin.bcm <= LAST_PULLED_UP_AT_BOOT
    if (pin.boot == "high") != boots_high:
        yield f"BCM {pin.bcm} does not boot {pin.boot}"


def _direction(read: Pins, bcm: int) -> str:
    if bcm == read.one_wire.bus:
        return "both"
    return "out" if bcm in read.outputs() else "in"


def wiring_table(read: Pins) -> str:
    """Write the wiring as the table of the page on it (Markdown)."""
    rows = [
        "| signal | BCM | header | direction | at boot | parts |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    rows += [
        f"| {pin.signal} | {pin.bcm} | {pin.header} | {pin.direction} | {pin.boot} | {pin.part} |"
        for pin in read.pin
    ]
    return "\n".join(rows)
