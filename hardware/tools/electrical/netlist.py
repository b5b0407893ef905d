# SPDX-License-Identifier: Apache-2.0
"""The circuit: ``hardware/nets.toml``, its computer's pins taken from the kit's ``pins.toml``."""

from collections.abc import Iterator
from functools import cache

import msgspec

from drainscale.pins import Pins, read_pins
from electrical.circuit import Circuit, PinKind
from products import HARDWARE, ROOT, HardwareError

PINS_PATH = "firmware/drainscale/pins.toml"
NETS_PATH = "hardware/nets.toml"
# Places of supply and ground on the 40-way header (Raspberry Pi documentation, from memory).
POWER_PLACES = {"5V": (2, 4), "3V3": (1, 17), "GND": (6, 9, 14, 20, 25, 30, 34, 39)}
BOARD_INPUT_MAX_V = 3.6  # supply 3.3 V plus 0.3 V (common practice for its pins, no source)
BOARD_INPUT_HIGH_V = 2.0  # the highest of the family's (Raspberry Pi 4, from memory)


class Bench(msgspec.Struct, frozen=True):
    """Both sources together."""

    pins: Pins
    circuit: Circuit


def signals(pins: Pins) -> dict[str, int]:
    """Return the pin (BCM) of each signal by its dotted name in ``pins.toml``."""
    scales = {
        f"scale.{name}.{line}": getattr(getattr(pins.scale, name), line)
        for name in ("drain", "supply")
        for line in ("clock", "data")
    }
    lamps = {f"lamp.{name}": bcm for name, bcm in pins.lamps().items()}
    foot = {f"foot_switch.{name}": getattr(pins.foot_switch, name) for name in ("closes", "opens")}
    return {
        **scales,
        "one_wire.bus": pins.one_wire.bus,
        **lamps,
        "sounder.drive": pins.sounder.drive,
        **foot,
    }


@cache
def bench() -> Bench:
    """Return the kit's own circuit."""
    return read_bench(
        (ROOT / PINS_PATH).read_text(encoding="utf-8"),
        (HARDWARE / "nets.toml").read_text(encoding="utf-8"),
    )


def read_bench(pins_text: str, nets_text: str) -> Bench:
    """Join a wiring and a circuit.

    Raises:
        HardwareError: One of them is unreadable, or the circuit names a signal, part or pin that
            is not there.
        InputError: The wiring breaks a rule of the board.
    """
    pins = read_pins(pins_text)
    try:
        read = msgspec.toml.decode(nets_text, type=Circuit)
    except msgspec.DecodeError as error:
        raise HardwareError(f"nets: {error}") from error
    circuit = _with_header(_with_board_pins(read, pins), pins)
    wrong = next(_unknown(circuit), None)
    if wrong is not None:
        raise HardwareError(f"nets: {wrong}")
    return Bench(pins, circuit)


def _with_board_pins(read: Circuit, pins: Pins) -> Circuit:
    kinds = {
        name: msgspec.structs.replace(kind, pins={**kind.pins, **_board_pins(pins)})
        if kind.adds_pins_of_the_board
        else kind
        for name, kind in read.kinds.items()
    }
    return msgspec.structs.replace(read, kinds=kinds)


def _board_pins(pins: Pins) -> dict[str, PinKind]:
    listens = PinKind(type="input", max_V=BOARD_INPUT_MAX_V, high_V=BOARD_INPUT_HIGH_V)
    kinds = {
        "out": PinKind(type="output", level="3V3"),
        "in": listens,
        "both": msgspec.structs.replace(listens, type="both", level="3V3"),
    }
    direction = {pin.bcm: pin.direction for pin in pins.pin}
    return {signal: kinds[direction[bcm]] for signal, bcm in signals(pins).items()}


def _with_header(read: Circuit, pins: Pins) -> Circuit:
    """Give the mirroring socket its pins, numbered by place, and put them on the same nets."""
    places: dict[str, tuple[int, ...]] = dict(POWER_PLACES)
    header = {pin.bcm: pin.header for pin in pins.pin}
    places |= {signal: (header[bcm],) for signal, bcm in signals(pins).items()}
    nets, kinds = {name: list(nodes) for name, nodes in read.nets.items()}, dict(read.kinds)
    for ref, part in read.part.items():
        if part.mirrors is None:
            continue
        of_signal = {f"{part.mirrors}.{signal}": numbers for signal, numbers in places.items()}
        for nodes in nets.values():
            nodes += [f"{ref}.{n}" for node in list(nodes) for n in of_signal.get(node, ())]
        used = sorted(number for numbers in places.values() for number in numbers)
        kinds[part.kind] = msgspec.structs.replace(
            kinds[part.kind], pins={str(number): PinKind() for number in used}
        )
    return msgspec.structs.replace(read, nets=nets, kinds=kinds)


def _unknown(circuit: Circuit) -> Iterator[str]:
    seen: set[str] = set()
    refs = [ref for part in circuit.parts for ref in part.refs]
    refs += [ref for fitting in circuit.fittings for ref in fitting.refs]
    for ref in (*refs, *(cable.ref for cable in circuit.cables)):
        if ref in seen:
            yield f"{ref} is there twice"
        seen.add(ref)
    for part in circuit.parts:
        if part.kind not in circuit.kinds:
            yield f"{part.refs[0]} is of the unknown kind {part.kind}"
    known = set(circuit.nodes())
    cores = [node for cable in circuit.cables for _, *ends in cable.cores for node in ends if node]
    for node in (*circuit.net, *circuit.unconnected.nodes, *cores):
        if node not in known:
            yield f"there is no pin {node}"
