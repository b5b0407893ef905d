# SPDX-License-Identifier: Apache-2.0
"""Which nets hang together through parts that let current flow, and how high they can get."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from electrical.circuit import Circuit, PinKind, split

OVER_SUPPLY_V = 0.3  # what an input bears above its own supply (data sheets' usual figure)
DRIVERS = ("output", "open_drain", "both")


@dataclass
class Domain:
    """Nets joined by resistors, lamps, coils and the like, as far as the rails.

    Attributes:
        nets: Their names; no rail is among them.
        rails: The rails that reach in.
        always: Those of the rails that reach in whatever a switch does.
    """

    nets: set[str] = field(default_factory=set)
    rails: set[str] = field(default_factory=set)
    always: set[str] = field(default_factory=set)


def domains(circuit: Circuit) -> dict[str, Domain]:
    """Return the domain of each net that is no rail."""
    found: dict[str, Domain] = {}
    for name in circuit.nets:
        if name not in circuit.rails and name not in found:
            domain = _grow(circuit, name)
            found |= dict.fromkeys(domain.nets, domain)
    return found


def neighbours(circuit: Circuit, net: str, with_switches: bool = True) -> Iterator[str]:
    """Yield the nets that a part joins to this one, conducting or through a switch."""
    for node in circuit.nets[net]:
        ref, pin = split(node)
        kind = circuit.kind(ref)
        for pair in (*kind.conducts, *(kind.switches if with_switches else ())):
            if pin in pair:
                other = pair[0] if pin == pair[1] else pair[1]
                joined = circuit.net.get(f"{ref}.{other}")
                if joined is not None:
                    yield joined


def _grow(circuit: Circuit, start: str) -> Domain:
    domain, waiting = Domain(), [start]
    while waiting:
        net = waiting.pop()
        if net in domain.nets:
            continue
        domain.nets.add(net)
        steady = set(neighbours(circuit, net, with_switches=False))
        for joined in neighbours(circuit, net):
            if joined not in circuit.rails:
                waiting.append(joined)
                continue
            domain.rails.add(joined)
            if joined in steady:
                domain.always.add(joined)
    return domain


def highest_V(circuit: Circuit, domain: Domain) -> float:
    """Return the highest voltage that rails and outputs can put on a domain.

    Dividers are left out of account: a part behind a resistor sees the full voltage once its own
    side draws nothing.
    """
    levels = [circuit.rails[rail].max_V for rail in domain.rails]
    for node, pin in pins_of(circuit, domain.nets):
        rail = _level(circuit, node, pin)
        if rail is not None:
            levels.append(circuit.rails[rail].max_V)
    return max(levels, default=0.0)


def lowest_high_V(circuit: Circuit, domain: Domain) -> float | None:
    """Return the lowest voltage that a driver or pull-up gives as high; None where none does."""
    rails = {_level(circuit, node, pin) for node, pin in pins_of(circuit, domain.nets)}
    levels = [circuit.rails[rail].min_V for rail in rails if rail is not None]
    if not levels:
        levels = [circuit.rails[rail].min_V for rail in domain.always if rail != "GND"]
    return min(levels, default=None)


def pins_of(circuit: Circuit, nets: set[str]) -> Iterator[tuple[str, PinKind]]:
    """Yield the nodes of some nets with what is known of their pins."""
    for net in sorted(nets):
        for node in circuit.nets[net]:
            yield node, circuit.pin(node)


def bears_V(circuit: Circuit, node: str, pin: PinKind) -> float | None:
    """Return the highest voltage that a pin bears; None where nothing is said."""
    if pin.follows is not None:
        supply = circuit.rail_at(split(node)[0], pin.follows)
        return 0.0 if supply is None else supply.max_V + OVER_SUPPLY_V
    return pin.max_V


def _level(circuit: Circuit, node: str, pin: PinKind) -> str | None:
    """Return the rail whose voltage a push-pull driver puts on its net."""
    if pin.level is None:
        return None
    rail = circuit.net.get(f"{split(node)[0]}.{pin.level}")
    return rail if rail in circuit.rails else None
