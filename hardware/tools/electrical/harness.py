# SPDX-License-Identifier: Apache-2.0
"""The wiring as WireViz harnesses: the header's ribbon, and the cables that leave the box."""

from dataclasses import dataclass

import yaml
from wireviz import wireviz, wv_bom

from drainscale.pins import HEADER_PLACES
from electrical.circuit import Cable, Circuit, split
from electrical.netlist import POWER_PLACES, Bench, signals
from electrical.titles import LICENCE, title
from products import tool

Yaml = dict[str, object]
LAID_OUT, SHOWN = 'font-size="14.00"', 'font-size="13.20"'


@dataclass(frozen=True)
class Drawing:
    """A harness as drawn: picture, the same in pixels, and its list of cables and plugs."""

    svg: str
    png: bytes
    bill_tsv: str


def harnesses(bench: Bench) -> dict[str, Yaml]:
    """Return every harness by its name."""
    return {"header": header_harness(bench), "cables": cables_harness(bench)}


def header_harness(bench: Bench) -> Yaml:
    """Return the ribbon from the computer's header to the carrier, place by place."""
    circuit = bench.circuit
    ribbon = next(cable for cable in circuit.cables if cable.mirrors is not None)
    socket = next(ref for ref, part in circuit.part.items() if part.mirrors == ribbon.mirrors)
    labels = {
        f"{ribbon.mirrors} computer": board_labels(bench),
        f"{socket} carrier": _carrier_labels(circuit, socket),
    }
    places = sorted(board_labels(bench))
    computer, carrier = labels
    return {
        "connectors": {
            name: {"type": "40-way header", "pins": places, "pinlabels": [at[n] for n in places]}
            for name, at in labels.items()
        },
        "cables": {ribbon.ref: {**_cable(ribbon), "wirecount": len(places)}},
        "connections": [[{computer: places}, {ribbon.ref: places}, {carrier: places}]],
        "tweak": {"append": _caption(circuit, "header and carrier")},
    }


def cables_harness(bench: Bench) -> Yaml:
    """Return every cable that leaves the box or joins what lies outside."""
    circuit = bench.circuit
    connectors: dict[str, Yaml] = {}
    connections: list[list[Yaml]] = []
    # the drawing program puts the last one on top
    cables = [cable for cable in reversed(circuit.cables) if cable.cores]
    for cable in cables:
        near, far = _near_name(circuit, cable), _place(circuit, cable.wires[0][2])
        _add_pins(connectors, near, circuit, [node for _, node, _ in cable.cores])
        _add_pins(connectors, far, circuit, [node for _, _, node in cable.wires])
        near_pins = [_pin(circuit, node) for _, node, _ in cable.wires]
        far_pins = [_pin(circuit, node) for _, _, node in cable.wires]
        wires = list(range(1, len(cable.wires) + 1))
        connections.append([{near: near_pins}, {cable.ref: wires}, {far: far_pins}])
        for _, node, _ in cable.cores[len(wires) :]:
            connections.append([{near: [_pin(circuit, node)]}, {cable.ref: ["s"]}])
    return {
        "connectors": connectors,
        "cables": {cable.ref: _coloured(cable) for cable in cables},
        "connections": connections,
        "tweak": {"append": _caption(circuit, "cables")},
    }


def yaml_text(harness: Yaml) -> str:
    """Write a harness as the YAML that WireViz reads."""
    body = yaml.safe_dump(harness, allow_unicode=True, sort_keys=False, width=100)
    return f"# {LICENCE}\n# Made from hardware/nets.toml and firmware/drainscale/pins.toml.\n{body}"


def draw(harness: Yaml) -> Drawing:
    """Draw a harness.

    Raises:
        HardwareError: Graphviz is not there.
    """
    tool("dot", "graphviz")
    drawn = wireviz.parse(yaml_text(harness), return_types="harness")
    names = sorted(drawn.connectors, key=len, reverse=True)  # one may end on another's name
    drawn.graph.body[:] = [_our_words(line, names) for line in drawn.graph.body]
    table = [["", "Item", "Quantity", "Unit", "Refs"], *wv_bom.bom_list(drawn.bom())[1:]]
    rows = ["\t".join(map(str, row)).replace("shielded", "screened") for row in table]
    svg: str = drawn.svg
    return Drawing(
        # browsers set the letters a little wider than the layout took them for
        svg=svg.replace("<svg", f"<!-- {LICENCE} -->\n<svg", 1).replace(LAID_OUT, SHOWN),
        png=drawn.png,
        bill_tsv="\n".join(rows) + "\n",
    )


def _our_words(line: str, connectors: list[str]) -> str:
    """Our word for a screen; a core says where it ends without naming the plug beside it anew."""
    line = line.replace("Shield", "Screen")
    if " -- " in line:  # an edge, where the name leads to the plug
        return line
    for name in connectors:
        line = line.replace(f">{name}:", ">").replace(f" {name}:", " ")
    return line


def board_labels(bench: Bench) -> dict[int, str]:
    """Say for each place of the header what the computer has there."""
    kept_free = set(bench.pins.kept_free)
    labels = {
        place: f"BCM {bcm}, {'kept free' if bcm in kept_free else 'spare'}"
        for bcm, place in HEADER_PLACES.items()
    }
    labels |= {place: rail for rail, places in POWER_PLACES.items() for place in places}
    of_bcm = {pin.bcm: pin for pin in bench.pins.pin}
    for bcm in signals(bench.pins).values():
        labels[of_bcm[bcm].header] = f"BCM {bcm}: {of_bcm[bcm].signal}"
    return labels


def _carrier_labels(circuit: Circuit, socket: str) -> dict[int, str]:
    """Say for each place of the header what the carrier joins to it."""
    labels = dict.fromkeys(range(1, 41), "not joined")
    for pin in circuit.kind(socket).pins:
        net = circuit.net[f"{socket}.{pin}"]
        part = circuit.part[socket]
        refs = sorted({split(node)[0] for node in circuit.nets[net]} - {socket, part.mirrors})
        labels[int(pin)] = f"rail {net}" if net in circuit.rails else ", ".join(refs)
    return labels


def _near_name(circuit: Circuit, cable: Cable) -> str:
    node = cable.cores[0][1]
    ref, _ = split(node)
    return f"{ref} {cable.name}" if _is_socket(circuit, ref) else _place(circuit, node)


def _place(circuit: Circuit, node: str) -> str:
    """Name what stands at a cable's end; the parts within it are its pins."""
    place = circuit.part[split(node)[0]].place
    named = {"pan": "pad on the pan", "floor": "foot switch", "head": "signal head"}
    return {**named, "wall": "supply unit", "box": "computer"}.get(place, place)


def _is_socket(circuit: Circuit, ref: str) -> bool:
    return circuit.part[ref].kind.startswith(("terminal", "socket_"))


def _pin(circuit: Circuit, node: str) -> int | str:
    ref, pin = split(node)
    return int(pin) if _is_socket(circuit, ref) else f"{ref} {pin}"


def _add_pins(connectors: dict[str, Yaml], name: str, circuit: Circuit, nodes: list[str]) -> None:
    """Put a cable's end on a connector: all pins of a socket, else those that the cable needs."""
    ref, _ = split(nodes[0])
    known = connectors.setdefault(name, {"pins": [], "pinlabels": []})
    pins, labels = known["pins"], known["pinlabels"]
    assert isinstance(pins, list)
    assert isinstance(labels, list)
    if _is_socket(circuit, ref):
        known["type"] = circuit.kind(ref).description
        nodes = [f"{ref}.{pin}" for pin in circuit.kind(ref).pins]
    else:
        known |= {"show_pincount": False, "ignore_in_bom": True}
    pins += [_pin(circuit, node) for node in nodes]
    labels += [net_label(circuit, node) for node in nodes]


def net_label(circuit: Circuit, node: str) -> str:
    """Return the words for the net of a pin."""
    net = circuit.net.get(node, "spare")
    return net if net in circuit.rails else net.replace("_", " ")


def _cable(cable: Cable) -> Yaml:
    return {
        "type": cable.name,
        "length": cable.length_m,
        "gauge": cable.mm2,
        "notes": f"{cable.make}\nrelief: {cable.relief}\nscreen: {cable.screen}",
    }


def _coloured(cable: Cable) -> Yaml:
    colours = [colour for colour, _, _ in cable.wires] + cable.spare
    return {**_cable(cable), "colors": colours, "shield": len(cable.wires) < len(cable.cores)}


def _caption(circuit: Circuit, what: str) -> str:
    label = f'label="{title(circuit, what)}"; labelloc=b; labeljust=l'
    return f'{label}; fontname="arial"; fontsize=16'
