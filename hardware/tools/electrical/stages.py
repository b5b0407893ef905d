# SPDX-License-Identifier: Apache-2.0
"""The parts that hang on one signal, and what each is there for."""

from collections.abc import Iterator
from dataclasses import dataclass

from electrical.circuit import Circuit, split
from products import HardwareError


@dataclass(frozen=True)
class Stage:
    """What lies between one pin of the computer and the rails.

    Attributes:
        signal: The signal's name in ``pins.toml``.
        refs: The parts, nearest to the pin first.
        nets: The nets between them; no rail is among them.
    """

    signal: str
    refs: tuple[str, ...]
    nets: tuple[str, ...]

    def of_kind(self, circuit: Circuit, kind: str) -> list[str]:
        """Return the stage's parts of a kind, nearest to the pin first."""
        return [ref for ref in self.refs if circuit.part[ref].kind == kind]

    def between(self, circuit: Circuit, kind: str, one: str, other: str) -> str:
        """Return the stage's part of a kind that joins two nets.

        Raises:
            HardwareError: There is none, or more than one.
        """
        found = [
            ref for ref in self.of_kind(circuit, kind) if set(_ends(circuit, ref)) == {one, other}
        ]
        if len(found) != 1:
            raise HardwareError(f"{len(found)} parts of kind {kind} join {one} and {other}")
        return found[0]


def stage(circuit: Circuit, signal: str) -> Stage:
    """Collect the parts from a signal's pin on, as far as rails, sockets and other boards."""
    nets: dict[str, None] = {}
    refs: dict[str, None] = {}
    waiting = [circuit.net[f"A1.{signal}"]]
    while waiting:
        net = waiting.pop(0)
        if net in nets or net in circuit.rails:
            continue
        nets[net] = None
        for node in circuit.nets[net]:
            ref, _ = split(node)
            if circuit.kind(ref).ends_stage:
                continue
            refs[ref] = None
            pins = circuit.kind(ref).pins
            waiting += [
                circuit.net[f"{ref}.{pin}"] for pin in pins if f"{ref}.{pin}" in circuit.net
            ]
    return Stage(signal, tuple(refs), tuple(nets))


def series_resistor(circuit: Circuit, found: Stage) -> tuple[str, str]:
    """Return the resistor between a stage's pin and the rest, and the net behind it."""
    pin_net = found.nets[0]
    for ref in found.of_kind(circuit, "resistor"):
        behind = set(_ends(circuit, ref)) - {pin_net} - set(circuit.rails)
        if pin_net in _ends(circuit, ref) and behind:
            return ref, behind.pop()
    raise HardwareError(f"{found.signal} has no resistor in series")


def parts_at_pin(circuit: Circuit, signal: str) -> str:
    """Say what is soldered to a signal's pin, in the words of ``pins.toml``."""
    pin_net = circuit.net[f"A1.{signal}"]
    found = stage(circuit, signal)
    gate = next(iter(found.of_kind(circuit, "mosfet")), None)
    words = [] if gate is None else ["N-MOSFET gate"]
    series, behind = series_resistor(circuit, found)
    near = [ref for net in (pin_net, behind) for ref in _refs(circuit, net) if ref != series]
    words += [f"{circuit.part[ref].value} to 3.3 V" for ref in near if _pulls(circuit, ref, "3V3")]
    words.append(f"{circuit.part[series].value} in series")
    words += [f"{circuit.part[ref].value} to ground" for ref in near if _pulls(circuit, ref, "GND")]
    text = ", ".join(words)
    if found.of_kind(circuit, "diode"):
        text += "; diode across the sounder"
    return text


def _pulls(circuit: Circuit, ref: str, rail: str) -> bool:
    """Tell whether a resistor or capacitor leads to a rail (or to the same one behind a fuse)."""
    if circuit.part[ref].kind not in ("resistor", "capacitor"):
        return False
    return any(end in circuit.rails and end.startswith(rail) for end in _ends(circuit, ref))


def _refs(circuit: Circuit, net: str) -> Iterator[str]:
    yield from (split(node)[0] for node in circuit.nets[net])


def _ends(circuit: Circuit, ref: str) -> Iterator[str]:
    yield from (circuit.net[f"{ref}.{pin}"] for pin in circuit.kind(ref).pins)
