# SPDX-License-Identifier: Apache-2.0
"""What of the circuit is told in tables: plugs and cables, the netlist, what was simulated."""

import csv
import io
import math
from collections.abc import Iterable, Iterator

from drainscale.pins import Pins, wiring_table
from electrical.carrier import on_carrier
from electrical.circuit import Cable, Circuit, split
from electrical.findings import Finding
from electrical.titles import LICENCE, title
from products import HardwareError


def plugs_page(circuit: Circuit) -> str:
    """Write every cable with its plug, pin by pin (Markdown)."""
    lines = [
        f"<!-- {LICENCE} -->",
        "# Cables and plugs",
        "",
        title(circuit, "cables and plugs"),
        "",
    ]
    lines += ["Made from `hardware/nets.toml`; `make hardware` writes it anew.", ""]
    lines += [
        "> **Before you wire:** supply off and unplugged. Only 3.3 V and 5 V of a double-insulated",
        "> unit leave the bench; mains stays at the wall, behind a residual-current device, and is",
        "> left to those licensed for it; your local electrical code comes first. Check each cable",
        "> with a meter before it meets the computer.",
        "",
    ]
    for cable in circuit.cables:
        lines += [*_cable(circuit, cable), ""]
    return "\n".join(lines)


def _cable(circuit: Circuit, cable: Cable) -> Iterator[str]:
    option = ", option" if cable.fit == "option" else ""
    yield f"## {cable.ref}: {cable.name} ({cable.length_m:g} m, {cable.mm2:g} mm²{option})"
    yield ""
    yield f"- Cable: {cable.make}."
    yield f"- Strain relief: {cable.relief}."
    yield f"- Screen: {cable.screen}."
    if not cable.cores:
        yield "- Place by place, as in [the drawing](header.svg)."
        return
    yield ""
    yield "| core | at the box | at the far end | net |"
    yield "| --- | --- | --- | --- |"
    for colour, near, far in cable.cores:
        yield f"| {colour} | {_end(near)} | {_end(far)} | {circuit.net[near]} |"
    for colour in cable.spare:
        yield f"| {colour} | not joined, cut back and sleeved | the same | |"


def _end(node: str) -> str:
    ref, pin = split(node)
    return f"{ref}, {pin}" if node else "left open"


CARRIER_HEAD = """\
Made from `hardware/nets.toml`; `make hardware` writes it anew.

> **Before you solder:** supply off and unplugged, nothing plugged in. Ventilate: fumes of solder
> irritate. Wear goggles when you cut wires.

![One way to place the parts](carrier.svg)

Every net of the carrier X5: join the pins of the second column on the board, then run the wires of
the third. Tick each row off, and prove it with the meter: all its pins below 1 Ω among themselves.
R11.2 is the second pin of R11; resistors, fuses and C4 to C6 have no side, so the number
only tells their two ends apart. Pins of one part that no row names stay open.
"""

CARRIER_TAIL = """\
## Ground in branches

Ground is one net, but not one wire. J2.4 goes by its own wire to A2.E-, J3.4 to A3.E-, and to no
other ground on the board: the converter joins them to its own. Lamps and sounder (Q1 to Q5, C3),
the converters (A2.GND, A3.GND, screens) and the rest run apart and meet at J1 alone. Else the
lamps' current is weighed: 0.6 A through 5 mΩ of shared copper are 3 mV, 0.1 % of the cell's supply,
5 g in 5 kg, with each flash.

## Which way round

| part | how |
| --- | --- |
| C3 | plus (the longer wire) to 5V_HEAD; the stripe is minus |
| D1 | the ring is K, to 5V_HEAD |
| Q1 to Q5 | G, D and S by the sheet of yours: makes differ in their order |
| TV1 to TV5 | line and ground by the sheet of yours |
| J1 | place 1 has a triangle. The computer's header has **no** key; its place 1 has a square pad |

Flat parts first (resistors, diode), then capacitors and transistors, terminals and header last.
Keep R31 to R34 a finger's breadth apart and 3 mm off the board: each gets warm, 0.4 W at most.
"""


def carrier_page(circuit: Circuit) -> str:
    """Write what is joined on the carrier and wired from it, net by net (Markdown)."""
    lines = [f"<!-- {LICENCE} -->", "# Carrier", "", title(circuit, "carrier"), "", CARRIER_HEAD]
    lines += ["| net | on the carrier | wires to | done |", "| --- | --- | --- | --- |"]
    soldered = set(on_carrier(circuit))
    for net, nodes in circuit.nets.items():
        board = [node for node in nodes if split(node)[0] in soldered]
        wires = [node for node in nodes if _is_wired(circuit, node)]
        if board or wires:
            lines.append(f"| {net} | {', '.join(board)} | {', '.join(wires)} | |")
    return "\n".join([*lines, "", CARRIER_TAIL])


def _is_wired(circuit: Circuit, node: str) -> bool:
    """Whether it is a pin of a converter's board or of a socket in the wall of the box."""
    return circuit.part[split(node)[0]].kind.startswith(("bridge_converter", "socket_"))


def netlist_csv(circuit: Circuit) -> str:
    """Write every net's pins, one a line."""
    nets = ((net, *split(node)) for net, nodes in circuit.nets.items() for node in sorted(nodes))
    open_ends = (("", *split(node)) for node in circuit.unconnected.nodes)
    return _csv(("net", "ref", "pin"), [*nets, *open_ends])


def findings_csv(findings: Iterable[Finding]) -> str:
    """Write what was simulated, three digits each, with its limits."""
    rows = [(f.name, f"{f.value:.3g}", f.unit, _limit(f.least), _limit(f.most)) for f in findings]
    return _csv(("figure", "simulated", "unit", "at least", "at most"), rows)


class Near(float):
    """A number that equals others as near to it as two versions of a simulator get."""

    def __eq__(self, other: object) -> bool:
        """Tell whether the other is within 2 %, or both are next to nothing."""
        if not isinstance(other, float):
            return NotImplemented
        return math.isclose(self, other, rel_tol=0.02, abs_tol=0.05)

    __hash__ = None  # type: ignore[assignment]  # what is near has no hash


def findings_meaning(raw: bytes) -> object:
    """Return what of a table of findings is compared: names and limits, numbers nearly."""
    _, *rows = csv.reader(io.StringIO(raw.decode()))
    return [(name, Near(value), *rest) for name, value, *rest in rows]


def with_wiring_table(page: str, pins: Pins) -> str:
    """Return the wiring page with its table and its list of free pins as ``pins.toml`` has them.

    Raises:
        HardwareError: The page has no such table.
    """
    table = wiring_table(pins)
    head = table.splitlines()[0]
    before, found, rest = page.partition(head)
    if not found:
        raise HardwareError("the wiring page has lost its table")
    _, blank, after = rest.partition("\n\n")
    _, stop, tail = after.partition(" are kept free")
    if not stop:
        raise HardwareError("the wiring page has lost its list of free pins")
    return f"{before}{table}{blank}BCM {', '.join(map(str, pins.kept_free))}{stop}{tail}"


def _limit(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def _csv(headings: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(headings)
    writer.writerows(rows)
    return text.getvalue()
