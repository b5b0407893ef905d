# SPDX-License-Identifier: Apache-2.0
"""The schematic's sheets of supply and sensors: rails, scales, pan thermocouple."""

from collections.abc import Callable

from schemdraw import elements as elm

from electrical import schematics
from electrical.netlist import Bench
from electrical.sheet import Point, Sheet
from electrical.stages import series_resistor, stage


def supply(bench: Bench) -> str:
    """Draw the supply unit, the computer's rails and the fuses of the cables."""
    sheet = Sheet(bench)
    unit = sheet.box("PS1", (0.0, 0.0), [], ["5V", "GND"], width=1.8)
    left = ["", "", "inlet 5V", "inlet GND"]
    right = ["5V", "", "", "", "3V3", "", "", "GND"]
    board = sheet.box("A1", (5.2, -3.2), left, right)
    for pin in ("5V", "GND"):
        inlet = board[f"inlet {pin}"]
        sheet.wire(unit[pin], (inlet[0] - 0.4, unit[pin][1]), (inlet[0] - 0.4, inlet[1]), inlet)
    sheet.text("W7", (3.2, unit["5V"][1] + 0.3))
    for rail in ("5V", "3V3", "GND"):
        sheet.text(_places(sheet, rail), (board[rail][0] - 0.3, board[rail][1] + 0.3))
    x, y = board["GND"]
    sheet.wire((x, y), (x + 6.6, y), (x + 6.6, y - 0.6))
    sheet.ground((x + 6.6, y - 0.6))
    _fused(sheet, "5V", "F1", "C3", board["5V"])
    _fused(sheet, "3V3", "F2", "C4", board["3V3"])
    return sheet.svg("supply and rails", (0.0, -5.6))


def _fused(sheet: Sheet, rail: str, fuse: str, capacitor: str, start: Point) -> None:
    """Draw a rail, its fuse, the rail behind it, and the capacitor of whichever has one."""
    circuit, (x, y) = sheet.circuit, start
    behind = next(name for name, one in circuit.rails.items() if one.behind == fuse)
    sheet.wire((x, y), (x + 9.0, y))
    sheet.part(fuse, (x + 9.0, y), (x + 11.6, y), elm.Fuse)
    sheet.wire((x + 11.6, y), (x + 14.0, y))
    spots = {rail: x + 7.6, behind: x + 12.4}
    for name, at in spots.items():
        sheet.dot((at, y))
        sheet.rail(name, (at, y))
    at = spots[circuit.net[f"{capacitor}.1"]] + 0.9
    sheet.dot((at, y))
    sheet.part(capacitor, (at, y), (at, y - 1.4), elm.Capacitor)
    if circuit.part[capacitor].make == "aluminium":
        sheet.text("+", (at - 0.25, y - 0.4), halign="right")
    sheet.ground((at, y - 1.4))
    sheet.text(schematics.plug(sheet, behind), (x + 14.2, y))


def _places(sheet: Sheet, rail: str) -> str:
    pins = (node for node in sheet.circuit.nets[rail] if node.startswith("J1."))
    return ", ".join(pins)


def scales(bench: Bench) -> str:
    """Draw both scales, from the computer's pins to the load cell."""
    sheet = Sheet(bench)
    for number, name in enumerate(("drain", "supply")):
        _scale(sheet, name, (0.0, -9.0 * number))
    return sheet.svg("scales (the lower one is an option)", (-1.5, -15.2))


def _scale(sheet: Sheet, name: str, at: Point) -> None:
    circuit, (x, y) = sheet.circuit, at
    clock, data = stage(circuit, f"scale.{name}.clock"), stage(circuit, f"scale.{name}.data")
    clock_series, clock_net = series_resistor(circuit, clock)
    data_series, _ = series_resistor(circuit, data)
    pull = data.between(circuit, "resistor", data.nets[0], "3V3")
    converter = _on(sheet, clock_net, "bridge_converter")
    left = ["VCC", "VDD", "SCK", "", "DOUT", "GND"]
    box = sheet.box(converter, (x + 5.6, y - 3.4), left, ["E+", "A+", "A-", "E-", "B+", "B-"])
    sheet.wire(box["VDD"], (box["VDD"][0], box["VCC"][1]), (box["VCC"][0], box["VCC"][1] + 0.8))
    sheet.rail("3V3", (box["VCC"][0], box["VCC"][1] + 0.8))
    sheet.dot(box["VCC"])
    for signal, series, pin in ((clock, clock_series, "SCK"), (data, data_series, "DOUT")):
        height = box[pin][1]
        sheet.signal(signal.signal, (x, height))
        sheet.wire((x, height), (x + 2.0, height))
        sheet.part(series, (x + 2.0, height), (x + 4.2, height), elm.Resistor)
        sheet.wire((x + 4.2, height), box[pin])
    sheet.dot((x + 1.6, box["DOUT"][1]))
    sheet.part(pull, (x + 1.6, box["DOUT"][1]), (x + 1.6, box["DOUT"][1] - 1.8), elm.Resistor)
    sheet.text("3V3", (x + 1.6, box["DOUT"][1] - 2.05), halign="center")
    for pin in ("GND", "B-"):
        sheet.wire(box[pin], (box[pin][0], box["GND"][1] - 0.6))
        sheet.ground((box[pin][0], box["GND"][1] - 0.6))
    sheet.wire(box["B+"], box["B-"])
    _cell(sheet, converter, box)


def _cell(sheet: Sheet, converter: str, box: dict[str, Point]) -> None:
    """Draw the lines from a converter to its cell, their suppressors and terminals."""
    circuit = sheet.circuit
    lines = ("E+", "A+", "A-", "E-")
    nets = [circuit.net[f"{converter}.{pin}"] for pin in lines]
    cell = _on(sheet, nets[0], "load_cell")
    clamp = _on(sheet, nets[0], "clamp_array")
    x = box["E+"][0]
    low = box["B-"][1]
    far = sheet.box(cell, (x + 7.0, box["E-"][1] - 0.4), ["E+", "S+", "S-", "E-"], [], width=1.8)
    for number, (pin, net) in enumerate(zip(lines, nets, strict=True)):
        end = far[pin.replace("A", "S")]
        sheet.wire(box[pin], end)
        node = f"{_on(sheet, nets[0], 'terminal')}.{number + 1}"
        assert circuit.net[node] == net
        sheet.terminal(node, (x + 5.2, end[1]), "top")
        if net != "GND":
            drop = (x + 1.0 + 0.8 * number, end[1])
            sheet.dot(drop)
            sheet.wire(drop, (drop[0], low - 0.4))
            sheet.text(str(number + 1), (drop[0] + 0.1, low - 0.2))
    sheet.outline((x + 0.6, low - 1.3), (x + 3.4, low - 0.4))
    sheet.text(f"{clamp} (4 open)", (x + 2.0, low - 0.85), halign="center")
    screen = f"{_on(sheet, nets[0], 'terminal')}.5"
    assert circuit.net[screen] == "GND"
    sheet.terminal(f"{screen} screen", (x + 5.2, low - 0.4), "top")
    sheet.wire((x + 5.2, low - 0.4), (x + 5.2, low - 1.0))
    sheet.ground((x + 5.2, low - 1.0))
    sheet.wire((x + 2.0, low - 1.3), (x + 2.0, low - 1.6))
    sheet.ground((x + 2.0, low - 1.6))


def pan(bench: Bench) -> str:
    """Draw 1-Wire, the pod and the thermocouple."""
    sheet = Sheet(bench)
    circuit = sheet.circuit
    found = stage(circuit, "one_wire.bus")
    series, line = series_resistor(circuit, found)
    pull = found.between(circuit, "resistor", found.nets[0], "3V3_POD")
    clamp = found.of_kind(circuit, "clamp")[0]
    converter = _on(sheet, line, "pan_converter")
    left = ["DQ", "", "VDD", "", "GND", "AD0", "AD1", "AD2", "AD3"]
    box = sheet.box(converter, (12.0, -4.4), left, ["", "", "T+", "", "T-"], width=2.6)
    y = box["DQ"][1]
    sheet.signal("one_wire.bus", (0.0, y))
    sheet.wire((0.0, y), (2.8, y))
    sheet.dot((1.2, y))
    sheet.part(pull, (1.2, y), (1.2, y + 1.8), elm.Resistor)
    sheet.rail("3V3_POD", (1.2, y + 1.8))
    sheet.part(series, (2.8, y), (5.2, y), elm.Resistor)
    sheet.wire((5.2, y), box["DQ"])
    sheet.dot((5.6, y))
    sheet.part(clamp, (5.6, y), (5.6, y - 1.8), elm.DiodeTVS)
    sheet.ground((5.6, y - 1.8))
    _pod_supply(sheet, box)
    sheet.terminal(schematics.plug(sheet, line), (8.8, y), "top")
    _thermocouple(sheet, converter, box)
    return sheet.svg("pan temperature", (-1.5, -6.2))


def _pod_supply(sheet: Sheet, box: dict[str, Point]) -> None:
    """Draw the pod's supply and ground, and the pins that are tied to ground."""
    high, low = box["VDD"], box["GND"]
    for place, pin in ((high, "VDD"), (low, "GND")):
        sheet.wire(place, (7.6, place[1]))
        sheet.terminal(sheet.near_end(f"U1.{pin}"), (8.8, place[1]), "top")
    sheet.rail("3V3_POD", (7.6, high[1]))
    sheet.wire((7.6, low[1]), (7.6, low[1] - 0.5))
    sheet.ground((7.6, low[1] - 0.5))
    x = high[0] - 1.6
    sheet.dot((x, high[1]), (x, low[1]))
    sheet.part("C1", (x, high[1]), (x, low[1]), elm.Capacitor)
    for pin in ("AD0", "AD1", "AD2", "AD3"):
        sheet.dot(box[pin])
    sheet.dot(low)
    sheet.wire(low, box["AD3"])


def _thermocouple(sheet: Sheet, converter: str, box: dict[str, Point]) -> None:
    """Draw the thermocouple's two wires to their junction, and the capacitor across them."""
    circuit = sheet.circuit
    couple = _on(sheet, circuit.net[f"{converter}.T+"], "thermocouple")
    across = _on(sheet, circuit.net[f"{converter}.T+"], "capacitor")
    plus, minus = box["T+"], box["T-"]
    x = plus[0] + 0.6
    for place in (plus, minus):
        sheet.wire(place, (x + 3.0, place[1]))
        sheet.dot((x, place[1]))
    sheet.part(across, (x, plus[1]), (x, minus[1]), elm.Capacitor)
    tip = (x + 4.2, (plus[1] + minus[1]) / 2.0)
    sheet.wire((x + 3.0, plus[1]), tip, (x + 3.0, minus[1]))
    sheet.dot(tip)
    sheet.text(f"{couple}\njunction insulated", (tip[0] + 0.3, tip[1]))
    sheet.text("+ green", (x + 1.6, plus[1] + 0.3))
    sheet.text("- white", (x + 1.6, minus[1] - 0.3))


def _on(sheet: Sheet, net: str, kind: str) -> str:
    """Return the part of a kind on a net."""
    refs = (node.split(".")[0] for node in sheet.circuit.nets[net])
    return next(ref for ref in refs if sheet.circuit.part[ref].kind == kind)


SHEETS: dict[str, Callable[[Bench], str]] = {
    "supply": supply,
    "scales": scales,
    "pan": pan,
    "lamps": schematics.lamps,
    "sounder": schematics.sounder,
    "foot-switch": schematics.foot_switch,
}
