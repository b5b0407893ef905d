# SPDX-License-Identifier: Apache-2.0
"""What the circuit must not do: each rule yields a line for each breach.

The rules are those of any electrical rule check (two drivers, floating inputs, open pins, supplies
on the right rail), and of voltage domains on top: nothing above what a pin bears.
"""

from collections import Counter
from collections.abc import Callable, Iterator

from electrical.circuit import Circuit, Rail, split
from electrical.domains import DRIVERS, bears_V, domains, highest_V, lowest_high_V, pins_of


def pins_are_joined(circuit: Circuit) -> Iterator[str]:
    """Every pin is in exactly one net, or listed as leading nowhere."""
    times = Counter(node for nodes in circuit.nets.values() for node in nodes)
    times.update(circuit.unconnected.nodes)
    for node in circuit.nodes():
        if times[node] == 0:
            yield f"{node} is in no net and not listed as unconnected"
        elif times[node] > 1:
            yield f"{node} is listed {times[node]} times"


def nets_have_two_pins(circuit: Circuit) -> Iterator[str]:
    """A net joins something to something."""
    for name, nodes in circuit.nets.items():
        if len(nodes) < 2:
            yield f"net {name} has only {nodes[0] if nodes else 'no pin'}"


def one_driver_a_net(circuit: Circuit) -> Iterator[str]:
    """A net has one output at most; lines that only pull low share one."""
    for name, nodes in circuit.nets.items():
        kinds = {node: circuit.pin(node).type for node in nodes}
        hard = [node for node, kind in kinds.items() if kind == "output"]
        soft = [node for node, kind in kinds.items() if kind in ("open_drain", "both")]
        if len(hard) > 1 or (hard and soft):
            yield f"net {name} is driven by {' and '.join(hard + soft)}"
        sources = [node for node, kind in kinds.items() if kind == "supply_out"]
        if len(sources) > 1 or (sources and hard):
            yield f"net {name} is supplied by {' and '.join(sources + hard)}"


def supplies_on_their_rails(circuit: Circuit) -> Iterator[str]:
    """Grounds lie on GND, supplies on a rail inside their range, and a rail has a source."""
    for node in circuit.nodes():
        pin, net = circuit.pin(node), circuit.net.get(node)
        if net is None:
            continue
        if pin.type == "ground" and net != "GND":
            yield f"{node} is a ground, but lies on {net}"
        if pin.type in ("supply_in", "supply_out") and (net not in circuit.rails or net == "GND"):
            yield f"{node} is a supply, but {net} is no rail for it"
        elif pin.type == "supply_in":
            yield from _outside(node, pin.min_V, pin.max_V, net, circuit.rails[net])
    for name, rail in circuit.rails.items():
        types = {circuit.pin(node).type for node in circuit.nets.get(name, ())}
        if name != "GND" and rail.behind is None and "supply_out" not in types:
            yield f"rail {name} has no source"


def _outside(
    node: str, min_V: float | None, max_V: float | None, net: str, rail: Rail
) -> Iterator[str]:
    if min_V is None or max_V is None:
        yield f"{node} is a supply with no range"
    elif rail.min_V < min_V or rail.max_V > max_V:
        yield (f"{node} takes {min_V} to {max_V} V, rail {net} has {rail.min_V} to {rail.max_V} V")


def fuses_feed_their_rails(circuit: Circuit) -> Iterator[str]:
    """A rail behind a fuse gets what its feeding rail leaves after the fuse."""
    for name, rail in circuit.rails.items():
        if rail.behind is None:
            continue
        fuse = circuit.part.get(rail.behind)
        ends = {circuit.net.get(f"{rail.behind}.{pin}", "") for pin in ("1", "2")}
        feeding = [circuit.rails[end] for end in ends - {name} if end in circuit.rails]
        if fuse is None or name not in ends or len(feeding) != 1:
            yield f"rail {name} is not behind {rail.behind}"
            continue
        drop_V = fuse.figures["max_ohm"] * load_mA(circuit, name) / 1000.0
        if feeding[0].min_V - drop_V < rail.min_V or feeding[0].max_V > rail.max_V:
            yield f"rail {name} promises more than {rail.behind} leaves"


def rails_bear_their_load(circuit: Circuit) -> Iterator[str]:
    """What hangs on a rail takes no more than the rail may give."""
    for name, rail in circuit.rails.items():
        if rail.limit_mA is not None and load_mA(circuit, name) > rail.limit_mA:
            yield f"rail {name} gives {rail.limit_mA} mA, {load_mA(circuit, name):.1f} mA is asked"


def load_mA(circuit: Circuit, rail: str) -> float:
    """Return what is drawn from a rail: supplies, pull-ups held low, and the rails behind it."""
    load = sum(circuit.pin(node).draws_mA for node in circuit.nets.get(rail, ()))
    for node in circuit.nets.get(rail, ()):
        ref, pin = split(node)
        part = circuit.part[ref]
        if part.kind == "resistor":
            load += 1000.0 * circuit.rails[rail].max_V / part.figures["ohm"]
        if part.kind == "fuse":
            other = circuit.net.get(f"{ref}.{'2' if pin == '1' else '1'}", "")
            behind = circuit.rails.get(other)
            load += load_mA(circuit, other) if behind and behind.behind == ref else 0.0
    return load


def inputs_are_driven(circuit: Circuit) -> Iterator[str]:
    """An input has a driver or a steady path to a rail; a line that only pulls low a pull-up."""
    domain_of = domains(circuit)
    for name, domain in domain_of.items():
        types = {pin.type for _, pin in pins_of(circuit, domain.nets)}
        for node in circuit.nets[name]:
            pin = circuit.pin(node)
            if pin.type == "input" and "output" not in types and not domain.always:
                yield f"input {node} floats"
            if pin.needs_pull and not domain.always:
                yield f"{node} is left to a driver that may be off: it needs a pull"
            if pin.type in ("open_drain", "both") and not domain.always - {"GND"}:
                yield f"{node} only pulls low, and nothing pulls it up"


def nothing_too_high(circuit: Circuit) -> Iterator[str]:
    """No output, rail or pull-up reaches a pin that does not bear it."""
    reach = {name: highest_V(circuit, domain) for name, domain in domains(circuit).items()}
    reach |= {name: rail.max_V for name, rail in circuit.rails.items()}
    for node, net in circuit.net.items():
        limit_V = bears_V(circuit, node, circuit.pin(node))
        if limit_V is not None and reach[net] > limit_V + 1e-9:
            yield f"{node} bears {limit_V:.2f} V, but net {net} can get to {reach[net]:.2f} V"


def highs_are_high(circuit: Circuit) -> Iterator[str]:
    """What is meant as high is taken as high."""
    for name, domain in domains(circuit).items():
        high_V = lowest_high_V(circuit, domain)
        for node in circuit.nets[name]:
            needed_V = circuit.pin(node).high_V
            if needed_V is not None and high_V is not None and high_V < needed_V:
                yield f"{node} needs {needed_V} V to be high, and gets {high_V} V"


def isolated_pins_stay_so(circuit: Circuit) -> Iterator[str]:
    """The thermocouple's two wires touch no rail, ground least of all, and no driver."""
    domain_of = domains(circuit)
    for node in circuit.nodes():
        net = circuit.net.get(node)
        if circuit.pin(node).type != "isolated" or net is None:
            continue
        domain = domain_of.get(net)
        touched = {net} if domain is None else domain.rails
        drivers = () if domain is None else pins_of(circuit, domain.nets)
        touched = touched | {other for other, pin in drivers if pin.type in DRIVERS}
        if touched:
            yield f"{node} has to be isolated, but touches {', '.join(sorted(touched))}"


def cables_join_equal_nets(circuit: Circuit) -> Iterator[str]:
    """Both ends of a core are on the same net; a screen is grounded at the box only."""
    for cable in circuit.cables:
        for colour, near, far in cable.cores:
            if colour == "screen":
                if circuit.net.get(near) != "GND" or far:
                    yield f"{cable.ref} has a screen that is not on ground at one end only"
                continue
            if near not in circuit.net or circuit.net[near] != circuit.net.get(far):
                yield f"{cable.ref} {colour} joins {near} and {far}, which are on different nets"


def leads_leave_enough(circuit: Circuit) -> Iterator[str]:
    """What a cable takes on its way leaves a supply pin at its end inside the pin's range."""
    for cable in circuit.cables:
        for _, near, far in cable.wires:
            pin, rail = circuit.pin(far), circuit.rails.get(circuit.net.get(near, ""))
            if pin.type != "supply_in" or rail is None or pin.min_V is None:
                continue
            left_V = rail.min_V - cable.loop_ohm * pin.draws_mA / 1000.0
            if left_V < pin.min_V:
                yield f"{cable.ref} leaves {far} {left_V:.2f} V, it takes {pin.min_V} V or more"


RULES: tuple[Callable[[Circuit], Iterator[str]], ...] = (
    pins_are_joined,
    nets_have_two_pins,
    one_driver_a_net,
    supplies_on_their_rails,
    fuses_feed_their_rails,
    rails_bear_their_load,
    inputs_are_driven,
    nothing_too_high,
    highs_are_high,
    isolated_pins_stay_so,
    cables_join_equal_nets,
    leads_leave_enough,
)


def breaches(circuit: Circuit) -> list[str]:
    """Return every breach of every rule, in the order of the rules."""
    return [line for rule in RULES for line in rule(circuit)]
