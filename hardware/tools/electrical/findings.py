# SPDX-License-Identifier: Apache-2.0
"""What the simulated stages do, held against the limits of ``nets.toml``."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from drainscale.signals.vocabulary import vocabulary
from electrical.decks import BRIGHT, DIM, Corner, head_deck, one_wire_deck, sounder_deck
from electrical.netlist import Bench
from electrical.simulation import measure
from electrical.stages import stage


@dataclass(frozen=True)
class Finding:
    """One measured figure and the limits that it is held to."""

    name: str
    value: float
    unit: str
    least: float | None = None
    most: float | None = None

    @property
    def is_kept(self) -> bool:
        """Whether the figure lies within its limits."""
        above = self.least is None or self.value >= self.least
        return above and (self.most is None or self.value <= self.most)


def decks(bench: Bench) -> dict[str, str]:
    """Return every deck by its name."""
    return {
        "lamps-bright": head_deck(bench, BRIGHT),
        "lamps-dim": head_deck(bench, DIM),
        **{f"sounder-{pitch:g}": sounder_deck(bench, pitch) for pitch in pitches_Hz()},
        "one-wire": one_wire_deck(bench),
    }


def pitches_Hz() -> list[float]:
    """Return the lowest and the highest pitch that the kit sounds."""
    pitches = [sound.pitch_Hz for sound in vocabulary().sounds.values()]
    return [min(pitches), max(pitches)]


def findings(bench: Bench, run: Callable[[str], dict[str, float]] = measure) -> list[Finding]:
    """Simulate every stage at both ends of the tolerances."""
    made = decks(bench)
    return [
        *_lamp_findings(bench, BRIGHT, run(made["lamps-bright"])),
        *_lamp_findings(bench, DIM, run(made["lamps-dim"])),
        *(
            finding
            for pitch in pitches_Hz()
            for finding in _sounder_findings(bench, pitch, run(made[f"sounder-{pitch:g}"]))
        ),
        *_one_wire_findings(bench, run(made["one-wire"])),
    ]


def _lamp_findings(bench: Bench, corner: Corner, got: dict[str, float]) -> Iterator[Finding]:
    circuit, limits = bench.circuit, bench.circuit.limits
    end, total_mA = "bright" if corner.is_bright else "dim", 0.0
    for name in bench.pins.lamps():
        found = stage(circuit, f"lamp.{name}")
        lamp = found.of_kind(circuit, "lamp")[0].lower()
        current_mA = 1000.0 * got[f"{lamp}_on"]
        total_mA += current_mA
        yield Finding(
            f"{name} lamp, {end}", current_mA, "mA", limits.lamp_min_mA, limits.lamp_max_mA
        )
        off_nA = 1e9 * abs(got[f"{lamp}_off"])
        yield Finding(f"{name} lamp off, {end}", off_nA, "nA", None, limits.lamp_off_nA)
        ballast = circuit.part[found.of_kind(circuit, "resistor")[-1]]
        used_W = (current_mA / 1000.0) ** 2 * corner.resistor_ohm(ballast)
        share = used_W / ballast.figures["rating_W"]
        yield Finding(
            f"{ballast.value} resistor of the {name} lamp, {end}",
            share,
            "of its rating",
            None,
            limits.resistor_share,
        )
        yield _pin_finding(bench, name, end, got[f"gpio_{found.nets[0]}"])
    head = circuit.rails["5V_HEAD"]
    yield Finding(f"rail 5V_HEAD, {end}", got["head_v"], "V", head.min_V, head.max_V)
    total_mA += 1000.0 * corner.rail_V(circuit, "5V") / _coil_ohm(bench)
    yield Finding(
        f"all lit and sounding, {end}", total_mA, "mA", None, circuit.rails["5V"].limit_mA
    )
    fuse = circuit.part[str(head.behind)]
    share = total_mA / fuse.figures["hold_mA"]
    yield Finding(f"fuse of the head, {end}", share, "of what it holds", None, limits.fuse_share)


def _coil_ohm(bench: Bench) -> float:
    """Return what limits the sounder's current, were it held on."""
    found = stage(bench.circuit, "sounder.drive")
    return bench.circuit.part[found.of_kind(bench.circuit, "sounder")[0]].figures["coil_ohm"]


def _sounder_findings(bench: Bench, pitch_Hz: float, got: dict[str, float]) -> Iterator[Finding]:
    limits, at = bench.circuit.limits, f"{pitch_Hz:g} Hz"
    yield Finding(f"sounder's transistor, {at}", got["peak_v"], "V", None, limits.sounder_peak_V)
    pin = stage(bench.circuit, "sounder.drive").nets[0]
    yield _pin_finding(bench, "sounder", at, got[f"gpio_{pin}"])


def _one_wire_findings(bench: Bench, got: dict[str, float]) -> Iterator[Finding]:
    limits = bench.circuit.limits
    yield Finding("1-Wire, rise", 1e6 * got["rise_s"], "µs", None, limits.one_wire_rise_us)
    yield Finding("1-Wire, low", got["low_v"], "V", None, limits.one_wire_low_V)


def _pin_finding(bench: Bench, name: str, end: str, current_A: float) -> Finding:
    """Return what a pin gives at most, the charging of the gate included."""
    limit_mA = bench.circuit.limits.gpio_mA
    return Finding(f"{name} pin, {end}", 1000.0 * abs(current_A), "mA", None, limit_mA)
