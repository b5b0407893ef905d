# SPDX-License-Identifier: Apache-2.0
"""The schematic's sheets of what the box drives and listens to: lamps, sounder, foot switch."""

from schemdraw import elements as elm

from electrical.circuit import split
from electrical.netlist import Bench
from electrical.sheet import Point, Sheet
from electrical.stages import series_resistor, stage


def lamps(bench: Bench) -> str:
    """Draw the four lamps and what drives them."""
    sheet = Sheet(bench)
    for number, name in enumerate(bench.pins.lamps()):
        _lamp(sheet, f"lamp.{name}", (7.0 * number, 0.0))
    return sheet.svg("lamps", (-1.5, -3.4))


def sounder(bench: Bench) -> str:
    """Draw the sounder, its diode and what drives it."""
    sheet = Sheet(bench)
    circuit = sheet.circuit
    net, (x, y) = _low_side(sheet, "sounder.drive", (0.0, 0.0))
    found = stage(circuit, "sounder.drive")
    loud, diode = found.of_kind(circuit, "sounder")[0], found.of_kind(circuit, "diode")[0]
    low, high = y + 0.8, y + 3.4
    sheet.wire((x, y), (x, low))
    sheet.wire((x, low), (x + 5.0, low))
    sheet.dot((x + 2.0, low))
    sheet.part(diode, (x + 2.0, low), (x + 2.0, high), elm.Schottky)
    sheet.terminal(plug(sheet, net), (x + 5.0, low), "bottom")
    ends = sheet.box(loud, (x + 5.5, low - 0.4), ["-"], ["+"], width=1.6)
    sheet.wire(ends["-"], (x + 5.0, low))
    sheet.wire(ends["+"], (ends["+"][0] + 0.6, low), (ends["+"][0] + 0.6, high))
    for place in (x + 2.0, ends["+"][0] + 0.6):
        sheet.rail("5V_HEAD", (place, high))
    return sheet.svg("sounder", (-1.5, -3.4))


def foot_switch(bench: Bench) -> str:
    """Draw both contacts of the foot switch with what cleans them."""
    sheet = Sheet(bench)
    names = ("closes", "opens")
    ends = [_contact(sheet, f"foot_switch.{name}", (0.0, -5.2 * n)) for n, name in enumerate(names)]
    contacts = [_pin_of(sheet, net, "S1") for net, _ in ends]
    x = ends[0][1][0] + 2.0
    box = sheet.box(
        "S1", (x, -6.8), [contacts[0], *[""] * 5, contacts[1], "", "", "COM"], [], width=2.0
    )
    for (net, end), pin in zip(ends, contacts, strict=True):
        sheet.wire(end, (end[0], box[pin][1]), box[pin])
        sheet.terminal(plug(sheet, net), (end[0] + 0.5, box[pin][1]), "top")
    common = box["COM"]
    sheet.wire(common, (common[0] - 1.0, common[1]), (common[0] - 1.0, common[1] - 0.8))
    sheet.terminal(sheet.near_end("S1.COM"), (common[0] - 0.5, common[1]), "top")
    sheet.ground((common[0] - 1.0, common[1] - 0.8))
    return sheet.svg("foot switch", (-1.5, -9.4))


def plug(sheet: Sheet, net: str) -> str:
    """Return the pins of plugs and terminals on a net, as they are written on a drawing."""
    pins = (node for node in sheet.circuit.nets[net] if node[0] == "J" and node[:3] != "J1.")
    return ", ".join(pins)


def _lamp(sheet: Sheet, signal: str, at: Point) -> None:
    circuit = sheet.circuit
    lamp = stage(circuit, signal).of_kind(circuit, "lamp")[0]
    cathode = circuit.net[f"{lamp}.K"]
    net, (x, y) = _low_side(sheet, signal, at)
    ballast = stage(circuit, signal).between(circuit, "resistor", net, cathode)
    sheet.part(ballast, (x, y), (x, y + 2.0), elm.Resistor)
    sheet.wire((x, y + 2.0), (x, y + 2.6))
    sheet.terminal(plug(sheet, cathode), (x, y + 2.3), "left")
    sheet.part(lamp, (x, y + 4.6), (x, y + 2.6), elm.LED)
    sheet.rail("5V_HEAD", (x, y + 4.6))


def _low_side(sheet: Sheet, signal: str, at: Point) -> tuple[str, Point]:
    """Draw a transistor with its two resistors; return its drain's net and place."""
    circuit, (x, y) = sheet.circuit, at
    found = stage(circuit, signal)
    series, gate_net = series_resistor(circuit, found)
    pull = found.between(circuit, "resistor", gate_net, "GND")
    transistor = found.of_kind(circuit, "mosfet")[0]
    sheet.signal(signal, (x, y))
    sheet.part(series, (x, y), (x + 2.2, y), elm.Resistor)
    sheet.wire((x + 2.2, y), (x + 3.4, y))
    sheet.dot((x + 2.3, y))
    sheet.part(pull, (x + 2.3, y), (x + 2.3, y - 1.8), elm.Resistor)
    sheet.ground((x + 2.3, y - 1.8))
    drain, source = sheet.transistor(transistor, (x + 3.4, y))
    sheet.wire(source, (source[0], y - 1.8))
    sheet.ground((source[0], y - 1.8))
    return circuit.net[f"{transistor}.D"], drain


def _contact(sheet: Sheet, signal: str, at: Point) -> tuple[str, Point]:
    """Draw one contact's pull-up, suppressor and filter; return its net and where it ends."""
    circuit, (x, y) = sheet.circuit, at
    found = stage(circuit, signal)
    series, line = series_resistor(circuit, found)
    filtering = found.between(circuit, "capacitor", found.nets[0], "GND")
    pull = found.between(circuit, "resistor", line, "3V3")
    clamp = found.of_kind(circuit, "clamp")[0]
    sheet.signal(signal, (x, y))
    sheet.wire((x, y), (x + 1.4, y))
    sheet.dot((x + 1.2, y))
    sheet.part(filtering, (x + 1.2, y), (x + 1.2, y - 1.8), elm.Capacitor)
    sheet.ground((x + 1.2, y - 1.8))
    sheet.part(series, (x + 1.4, y), (x + 3.8, y), elm.Resistor)
    sheet.wire((x + 3.8, y), (x + 6.6, y))
    sheet.dot((x + 4.2, y), (x + 5.6, y))
    sheet.part(pull, (x + 4.2, y), (x + 4.2, y + 1.8), elm.Resistor)
    sheet.rail("3V3", (x + 4.2, y + 1.8))
    sheet.part(clamp, (x + 5.6, y), (x + 5.6, y - 1.8), elm.DiodeTVS)
    sheet.ground((x + 5.6, y - 1.8))
    return line, (x + 6.6, y)


def _pin_of(sheet: Sheet, net: str, ref: str) -> str:
    return next(split(node)[1] for node in sheet.circuit.nets[net] if split(node)[0] == ref)
