# SPDX-License-Identifier: Apache-2.0
"""The list of parts: of the circuit, its cables and fittings, and of the mechanics."""

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass

import msgspec

from electrical.circuit import Circuit, Fitting, Part
from products import HARDWARE, HardwareError

MECHANICS = HARDWARE / "cad" / "parts.toml"
HEADINGS = ("ref", "qty", "description", "key_figures", "alternatives", "fit", "needed_for")


class Mechanics(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The parts of ``hardware/cad/parts.toml``."""

    parts: list[Fitting]


@dataclass(frozen=True)
class Line:
    """Parts that are bought as one."""

    refs: tuple[str, ...]
    quantity: float
    description: str
    key_figures: str
    alternatives: str
    fit: str
    needed_for: str

    def cells(self) -> tuple[str, ...]:
        """Return the cells of the line, in the order of the headings."""
        refs, count = " ".join(self.refs), f"{self.quantity:g}"
        rest = (self.description, self.key_figures, self.alternatives, self.fit, self.needed_for)
        return (refs, count, *rest)


def bill(circuit: Circuit, mechanics: list[Fitting]) -> list[Line]:
    """Return every line, equal parts on one.

    Raises:
        HardwareError: A part of the mechanics bears a reference of the circuit.
    """
    lines = [*_electrical(circuit), *_cables(circuit), *map(_fitting, circuit.fittings)]
    lines += map(_fitting, mechanics)
    seen: set[str] = set()
    for line in lines:
        twice = seen.intersection(line.refs)
        if twice:
            raise HardwareError(f"list of parts: {', '.join(sorted(twice))} is there twice")
        seen.update(line.refs)
    return lines


def mechanical_parts() -> list[Fitting]:
    """Return the parts of the mechanics.

    Raises:
        HardwareError: Their file is unreadable.
    """
    if not MECHANICS.exists():
        return []
    try:
        return msgspec.toml.decode(MECHANICS.read_bytes(), type=Mechanics).parts
    except (OSError, msgspec.DecodeError) as error:
        raise HardwareError(f"list of parts: {error}") from error


def bill_csv(lines: list[Line]) -> str:
    """Write the list of parts."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(HEADINGS)
    writer.writerows(line.cells() for line in lines)
    return text.getvalue()


def _electrical(circuit: Circuit) -> Iterator[Line]:
    groups: dict[tuple[str, str, str], list[Part]] = {}
    for part in circuit.parts:
        figures = circuit.kinds[part.kind].key_figures.format(
            value=part.value, colour=part.colour, make=part.make, **part.figures
        )
        groups.setdefault((part.kind, figures, part.fit), []).append(part)
    for (kind, figures, fit), parts in groups.items():
        refs = tuple(ref for part in parts for ref in part.refs)
        needs = ", ".join(dict.fromkeys(part.needed_for for part in parts))
        known = circuit.kinds[kind]
        yield Line(refs, len(refs), known.description, figures, known.alternatives, fit, needs)


def _cables(circuit: Circuit) -> Iterator[Line]:
    for cable in circuit.cables:
        figures = f"{cable.length_m:g} m, {cable.mm2:g} mm²; {cable.make}"
        own = "comes with its part" if " own," in cable.make else "thicker; the same length"
        yield Line(
            (cable.ref,), 1, f"cable: {cable.name}", figures, own, cable.fit, cable.needed_for
        )


def _fitting(fitting: Fitting) -> Line:
    count = fitting.quantity or len(fitting.refs)
    return Line(
        tuple(fitting.refs),
        count,
        fitting.description,
        fitting.key_figures,
        fitting.alternatives,
        fitting.fit,
        fitting.needed_for,
    )
