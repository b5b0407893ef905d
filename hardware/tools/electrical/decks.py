# SPDX-License-Identifier: Apache-2.0
"""Driver stages as ngspice decks, every value taken from ``nets.toml``.

Models are generic: a diode that has the stated forward voltage at 0.1 A, a level 1 transistor that
has the stated on-resistance at 2.5 V gate. Repeat them with the curves of the parts bought.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from electrical.circuit import Circuit, Part
from electrical.netlist import Bench
from electrical.stages import Stage, stage

THERMAL_V = 0.02585  # k T / q at 300 K
TEST_A = 0.1  # the current at which the forward voltages are stated
GATE_TEST_V = 2.5  # the gate voltage at which the on-resistance is stated
RESISTOR_TOLERANCE = 0.01
SINK_OHM = (
    100.0  # the converter pulls 1-Wire to 0.4 V at 4 mA (data sheet of the type, from memory)
)
PERIOD_S = 1e-3
GPIO_EDGE_S = 10e-9


@dataclass(frozen=True)
class Corner:
    """One end of the tolerances.

    Attributes:
        is_bright: Supply high, forward voltages and resistances low; else the contrary.
    """

    is_bright: bool

    def rail_V(self, circuit: Circuit, rail: str) -> float:
        """Return the rail's voltage at this end."""
        return circuit.rails[rail].max_V if self.is_bright else circuit.rails[rail].min_V

    def resistor_ohm(self, part: Part) -> float:
        """Return a resistor at this end of its tolerance."""
        sign = -1.0 if self.is_bright else 1.0
        return part.figures["ohm"] * (1.0 + sign * RESISTOR_TOLERANCE)

    def forward_V(self, part: Part) -> float:
        """Return a lamp's forward voltage at 0.1 A at this end."""
        return part.figures["vf_min_V" if self.is_bright else "vf_max_V"]

    def series_ohm(self, ohm: float) -> float:
        """Return a resistance that is between nothing and this."""
        return 1e-3 if self.is_bright else ohm


BRIGHT, DIM = Corner(is_bright=True), Corner(is_bright=False)


def head_deck(bench: Bench, corner: Corner) -> str:
    """Return the deck with all lamps lit at once, over the fuse that they share."""
    circuit = bench.circuit
    stages = [stage(circuit, f"lamp.{name}") for name in bench.pins.lamps()]
    lines = [*_rail(circuit, corner, "5V_HEAD"), *_elements(circuit, corner, stages)]
    level_V = corner.rail_V(circuit, "3V3")
    for found in stages:
        lines.append(_gpio(found, level_V, PERIOD_S / 2.0))
        for lamp in found.of_kind(circuit, "lamp"):
            lines += [
                f".meas tran {lamp}_on find i(V{lamp}) at={0.4 * PERIOD_S:g}",
                f".meas tran {lamp}_off find i(V{lamp}) at={0.9 * PERIOD_S:g}",
            ]
        pin = found.nets[0]
        lines.append(f".meas tran gpio_{pin} min i(V{pin})")
    lines.append(f".meas tran head_V find v(5V_HEAD) at={0.4 * PERIOD_S:g}")
    return _deck("lamps, all lit", bench, lines, f".tran 0.1u {PERIOD_S:g} 0 0.1u")


def sounder_deck(bench: Bench, pitch_Hz: float, without: Sequence[str] = ()) -> str:
    """Return the deck of the sounder at a pitch, some parts left out."""
    circuit, period_s = bench.circuit, 1.0 / pitch_Hz
    found = stage(circuit, "sounder.drive")
    gone = Stage(found.signal, tuple(r for r in found.refs if r not in without), found.nets)
    drain = circuit.net[f"{found.of_kind(circuit, 'mosfet')[0]}.D"]
    pin = found.nets[0]
    lines = [
        *_rail(circuit, BRIGHT, "5V_HEAD"),
        *_elements(circuit, BRIGHT, [gone]),
        _gpio(found, BRIGHT.rail_V(circuit, "3V3"), period_s / 2.0),
        f".meas tran peak_V max v({drain})",
        f".meas tran gpio_{pin} min i(V{pin})",
        f".meas tran coil_A max i(V{found.of_kind(circuit, 'sounder')[0]})",
    ]
    return _deck(f"sounder at {pitch_Hz:g} Hz", bench, lines, f".tran 0.1u {3 * period_s:g} 0 0.1u")


def one_wire_deck(bench: Bench) -> str:
    """Return the deck of 1-Wire: the pod holds the line low for 20 us, then lets go."""
    circuit = bench.circuit
    found = stage(circuit, "one_wire.bus")
    pin, line = found.nets[0], circuit.net["U1.DQ"]
    cable = next(cable for cable in circuit.cables if cable.ref == "W3")
    lines = [
        f"Vsupply 3V3_POD 0 {DIM.rail_V(circuit, '3V3_POD'):g}",
        *_elements(circuit, DIM, [found]),
        f"CW3 {line} 0 {cable.pF_per_m * cable.length_m:g}p",
        f"Spod {line} 0 sink 0 pull",
        f".model pull SW(VT=0.5 RON={SINK_OHM:g} ROFF=1e9)",
        "Vsink sink 0 PULSE(1 0 20u 10n 10n 80u 200u)",
        f".meas tran rise_s trig v({pin}) val=0.4 rise=1 targ v({pin}) val=2.2 rise=1",
        f".meas tran low_V find v({pin}) at=15u",
    ]
    return _deck("1-Wire", bench, lines, ".tran 10n 60u 0 10n")


def lead_ohm(circuit: Circuit, ref: str) -> float:
    """Return the resistance, there and back, of the cable to a part; 0 where it has none.

    A lamp is given a 5 V core of its own. In truth two cores carry all lamps' sum: that takes some
    30 mV more where all are lit, a hundredth of a lamp's current, and is left out.
    """
    for cable in circuit.cables:
        if any(far.startswith(f"{ref}.") for _, _, far in cable.cores):
            return cable.loop_ohm
    return 0.0


def _deck(title: str, bench: Bench, lines: list[str], analysis: str) -> str:
    top = [f"* {title}", "* SPDX-License-Identifier: CERN-OHL-P-2.0"]
    top.append(f"* revision {bench.circuit.revision}; made from hardware/nets.toml")
    return "\n".join([*top, *lines, analysis, ".end", ""])


def _rail(circuit: Circuit, corner: Corner, name: str) -> Iterator[str]:
    """Yield a rail behind its fuse: the source of the feeding rail, and the fuse."""
    fuse = circuit.rails[name].behind
    ends = {circuit.net[f"{fuse}.{pin}"] for pin in ("1", "2")}
    feeding = next(iter(ends - {name}))
    yield f"Vsupply {feeding} 0 {corner.rail_V(circuit, feeding):g}"
    if fuse is not None:
        ohm = corner.series_ohm(circuit.part[fuse].figures["max_ohm"])
        yield f"R{fuse} {feeding} {name} {ohm:g}"


def _gpio(found: Stage, level_V: float, on_s: float) -> str:
    """Return the pin: an ideal source, so that nothing but the stage limits its current."""
    pin = found.nets[0]
    edge = f"{GPIO_EDGE_S:g}"
    return f"V{pin} {pin} 0 PULSE(0 {level_V:g} 1u {edge} {edge} {on_s:g} {2.0 * on_s:g})"


def _elements(circuit: Circuit, corner: Corner, stages: Sequence[Stage]) -> Iterator[str]:
    for ref in dict.fromkeys(ref for found in stages for ref in found.refs):
        yield from _element(circuit, corner, ref)


def _element(circuit: Circuit, corner: Corner, ref: str) -> Iterator[str]:
    part = circuit.part[ref]
    n = {pin: _node(circuit, f"{ref}.{pin}") for pin in circuit.kind(ref).pins}
    if part.kind == "resistor":
        yield f"R{ref} {n['1']} {n['2']} {corner.resistor_ohm(part):g}"
    elif part.kind == "capacitor":
        yield f"C{ref} {n['1']} {n['2']} {part.figures['farad']:g}"
    elif part.kind == "clamp":
        yield f"C{ref} {n['line']} 0 {part.figures['line_pF']:g}p"
    elif part.kind == "lamp":
        yield from _lamp(corner, ref, part, n, lead_ohm(circuit, ref))
    elif part.kind == "diode":
        # an emission coefficient of 1 and no series resistance: a Schottky diode, by and large
        saturation_A = TEST_A / math.expm1(part.figures["vf_V"] / THERMAL_V)
        yield f"D{ref} {n['A']} {n['K']} d{ref}"
        yield f".model d{ref} D(IS={saturation_A:g} N=1)"
    elif part.kind == "mosfet":
        yield from _mosfet(ref, part, n)
    elif part.kind == "sounder":
        yield f"V{ref} {n['+']} {ref}_a 0"
        yield f"R{ref} {ref}_a {ref}_b {part.figures['coil_ohm']:g}"
        yield f"L{ref} {ref}_b {n['-']} {part.figures['coil_mH']:g}m"
    else:
        raise ValueError(f"{ref} ({part.kind}) has no model")


def _lamp(corner: Corner, ref: str, part: Part, n: dict[str, str], lead: float) -> Iterator[str]:
    series = part.figures["series_ohm"]
    junction_V = corner.forward_V(part) - TEST_A * series
    saturation_A = TEST_A / math.expm1(junction_V / (2.0 * THERMAL_V))
    yield f"V{ref} {n['A']} {ref}_a 0"
    yield f"R{ref} {ref}_a {ref}_b {corner.series_ohm(lead):g}"
    yield f"D{ref} {ref}_b {n['K']} d{ref}"
    yield f".model d{ref} D(IS={saturation_A:g} N=2 RS={series:g})"


def _mosfet(ref: str, part: Part, n: dict[str, str]) -> Iterator[str]:
    over_V = GATE_TEST_V - part.figures["threshold_V"]
    gain = 1000.0 / (part.figures["on_mohm"] * over_V)
    yield f"M{ref} {n['D']} {n['G']} {n['S']} {n['S']} m{ref} W=100u L=100u"
    yield f".model m{ref} NMOS(LEVEL=1 VTO={part.figures['threshold_V']:g} KP={gain:g})"
    yield f"C{ref}g {n['G']} {n['S']} {part.figures['gate_pF']:g}p"
    yield f"C{ref}d {n['D']} {n['S']} {part.figures['drain_pF']:g}p"


def _node(circuit: Circuit, node: str) -> str:
    net = circuit.net[node]
    return "0" if net == "GND" else net
