# SPDX-License-Identifier: Apache-2.0
"""The list of parts: of the circuit, its cables and fittings, and of the mechanics."""

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from electrical.circuit import Circuit, Fitting, Part
from products import HardwareError

HEADINGS = ("ref", "qty", "description", "key_figures", "alternatives", "fit", "needed_for")


@dataclass(frozen=True)
class Line:
    """Parts that are bought as one."""

    refs: tuple[str, ...]
    quantity: int
    description: str
    key_figures: str
    alternatives: str
    fit: str
    needed_for: str

    def cells(self) -> tuple[str, ...]:
        """Return the cells of the line, in the order of the headings."""
        refs, count = " ".join(self.refs), str(self.quantity)
        rest = (self.description, self.key_figures, self.alternatives, self.fit, self.needed_for)
        return (refs, count, *rest)


def bill(circuit: Circuit, mechanics: Iterable[Sequence[str]]) -> list[Line]:
    """Return every line, equal parts on one.

    Args:
        circuit: The circuit.
        mechanics: The rows of the mechanics' own list of parts (``mechanical.parts_list``).

    Raises:
        HardwareError: A part of the mechanics bears a reference of the circuit.
    """
    lines = [*_electrical(circuit), *_cables(circuit), *map(_fitting, circuit.fittings)]
    lines += [line for row in mechanics for line in _mechanical(row)]
    seen: set[tuple[str, str]] = set()
    for line in lines:
        for ref in line.refs:
            if (ref, line.fit) in seen:
                raise HardwareError(f"list of parts: {ref} is there twice")
            seen.add((ref, line.fit))
    return lines


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
    return Line(
        tuple(fitting.refs),
        len(fitting.refs),
        fitting.description,
        fitting.key_figures,
        fitting.alternatives,
        fitting.fit,
        fitting.needed_for,
    )


def _mechanical(row: Sequence[str]) -> Iterator[Line]:
    """Yield a mechanical part's lines: what the kit needs, and a supply scale besides."""
    ref, base, option, what, figures, needed_for, file, _ = row
    other = "any that keeps these figures"
    if file:
        figures, other = f"{figures}; {file}", "any way to make it that keeps the drawing"
    for fit, count, needed in (("base", base, needed_for), ("option", option, "supply scale")):
        if int(count) > 0:
            yield Line((ref,), int(count), what, figures, other, fit, needed)
