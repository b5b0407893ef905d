# SPDX-License-Identifier: Apache-2.0
"""The circuit as data: the structure of ``hardware/nets.toml``."""

from collections.abc import Iterator
from functools import cached_property
from typing import Literal

import msgspec

from electrical.units import engineering

PinType = Literal[
    "passive", "supply_out", "supply_in", "ground", "output", "open_drain", "both", "input",
    "isolated",
]  # fmt: skip
Fit = Literal["base", "option"]


class Rail(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A net with a voltage of its own; ``behind`` names the fuse that feeds it."""

    min_V: float
    max_V: float
    limit_mA: float | None = None
    behind: str | None = None


class PinKind(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What a pin does and bears.

    Attributes:
        level: The pin of the same part whose rail an output's high level is.
        follows: The pin of the same part whose rail, plus 0.3 V, the pin bears at most.
        high_V: What an input needs at least to be high.
        needs_pull: Must not be left to a driver that may be off.
    """

    type: PinType = "passive"
    min_V: float | None = None
    max_V: float | None = None
    level: str | None = None
    follows: str | None = None
    high_V: float | None = None
    draws_mA: float = 0.0
    needs_pull: bool = False


class Kind(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What parts of a kind have in common."""

    description: str
    key_figures: str
    alternatives: str
    pins: dict[str, PinKind] = {}
    conducts: list[tuple[str, str]] = []
    switches: list[tuple[str, str]] = []
    ends_stage: bool = False
    adds_pins_of_the_board: bool = False


class Part(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Parts that are alike but for their references."""

    refs: list[str]
    kind: str
    place: str
    needed_for: str
    fit: Fit = "base"
    mirrors: str | None = None
    colour: str = ""
    make: str = ""
    figures: dict[str, float] = {}

    @property
    def value(self) -> str:
        """The value as it stands on a drawing; empty where the part has none."""
        for figure, factor, unit in (
            ("ohm", 1.0, "Ω"),
            ("farad", 1.0, "F"),
            ("hold_mA", 1e-3, "A"),
        ):
            if figure in self.figures:
                return engineering(factor * self.figures[figure], unit)
        return ""


COPPER_OHM_MM2_PER_M = 0.0175  # resistivity of copper at 20 degC (handbook, from memory)


class Cable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A cable.

    Attributes:
        cores: Colour, node at the box, node at the far end; a screen's far end is empty.
        spare: Colours of the cores that lead nowhere.
        mirrors: The part whose header the cable carries on, place by place; it has no ``cores``.
    """

    ref: str
    name: str
    make: str
    length_m: float
    mm2: float
    relief: str
    screen: str
    needed_for: str
    fit: Fit = "base"
    pF_per_m: float = 100.0
    mirrors: str | None = None
    cores: list[tuple[str, str, str]] = []
    spare: list[str] = []

    @property
    def loop_ohm(self) -> float:
        """The resistance of one core there and another back."""
        return 2.0 * COPPER_OHM_MM2_PER_M * self.length_m / self.mm2

    @property
    def wires(self) -> list[tuple[str, str, str]]:
        """The cores without the screen."""
        return [core for core in self.cores if core[0] != "screen"]


class Fitting(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What is needed besides and carries no current."""

    refs: list[str]
    description: str
    key_figures: str
    alternatives: str
    needed_for: str
    fit: Fit = "base"


class Limits(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What the driver stages are held to."""

    lamp_min_mA: float
    lamp_max_mA: float
    lamp_off_nA: float
    fuse_share: float
    resistor_share: float
    gpio_mA: float
    sounder_peak_V: float
    one_wire_rise_us: float
    one_wire_low_V: float


class Unconnected(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Pins that lead nowhere on purpose."""

    nodes: list[str]


class Circuit(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True, dict=True):
    """The whole of ``nets.toml``, with the board's pins put in."""

    revision: str
    date: str
    rails: dict[str, Rail]
    limits: Limits
    kinds: dict[str, Kind]
    parts: list[Part]
    nets: dict[str, list[str]]
    unconnected: Unconnected
    cables: list[Cable]
    fittings: list[Fitting]

    @cached_property
    def part(self) -> dict[str, Part]:
        """Each part by its reference."""
        return {ref: part for part in self.parts for ref in part.refs}

    @cached_property
    def net(self) -> dict[str, str]:
        """The net of each node."""
        return {node: name for name, nodes in self.nets.items() for node in nodes}

    def kind(self, ref: str) -> Kind:
        """Return the kind of a part."""
        return self.kinds[self.part[ref].kind]

    def pin(self, node: str) -> PinKind:
        """Return what is known of a node's pin."""
        ref, name = split(node)
        return self.kind(ref).pins[name]

    def nodes(self) -> Iterator[str]:
        """Yield every pin that there is."""
        for ref, part in self.part.items():
            yield from (f"{ref}.{pin}" for pin in self.kinds[part.kind].pins)

    def rail_at(self, ref: str, pin: str) -> Rail | None:
        """Return the rail that a part's pin lies on, if it does."""
        return self.rails.get(self.net.get(f"{ref}.{pin}", ""))


def split(node: str) -> tuple[str, str]:
    """Return reference and pin of a node; the pin may hold dots."""
    ref, _, pin = node.partition(".")
    return ref, pin
