# SPDX-License-Identifier: Apache-2.0
"""The mechanics sheet: what bends how far, and whether the stops do their work."""

from collections.abc import Iterator

from mechanical.params import PLATFORMS, Params
from mechanical.stops import StopCheck, check_stops

HEAD = """\
# Mechanics sheet

*Made from `hardware/cad/params.toml` by `make hardware`; don't edit.
Revision {revision}; {status}.*

How far the plates bend, and whether the overload stops stay clear in use and touch before a load
cell is harmed. Plates by finite elements (rectangles with twelve terms), the top plate also by the
handbook's ring plate (Timoshenko and Woinowsky-Krieger, *Theory of Plates and Shells*, articles 17
and 62); the tests hold both against published values. Cells by the figures of params.toml, which
are from memory or estimates until your cell's sheet replaces them.

The gap closes by four movements: the cell goes down, it tilts under a load beside its mount, the
top plate bends, the base bends under the cell's foot.
"""

TAIL = """\
A third of the largest load on a quarter of the platform is the eccentric load of OIML R 76-1
(3.6.2). A full container on a quarter's middle touches a stop: that is what the stops are for.
Stand it in the middle.

What is not in these figures: a floor that gives, a plate that was not flat, a gap set by eye. The
bring-up sheet measures instead.
"""


def mechanics_page(params: Params) -> str:
    """Write the sheet."""
    parts = [HEAD.format(revision=params.revision, status=params.status)]
    parts += ["\n".join(_section(check_stops(name), params, name)) + "\n" for name in PLATFORMS]
    return "\n".join([*parts, TAIL])


def _section(check: StopCheck, params: Params, name: str) -> Iterator[str]:
    platform, cell = params.platform[name], params.cell[name]
    yield f"## {check.title.capitalize()}"
    yield ""
    plates = f"plates {platform.plate:g} mm; stops at ±{platform.stop:g} mm"
    yield f"Cell {cell.capacity_kg:g} kg; {plates}."
    yield ""
    yield "| what | value | has to be |"
    yield "| --- | --- | --- |"
    gap = f"{check.gap:.2f} to {check.widest:.2f} mm"
    yield f"| gap of each stop, empty | {gap} | set with a feeler gauge |"
    yield (
        f"| load over the cell's mount at which the stops touch"
        f" | {check.touches_kg:.1f} to {check.touches_late_kg:.1f} kg"
        f" | above {cell.capacity_kg:g}, below {check.safe_kg:g} kg, the cell's safe load |"
    )
    for what, left in check.clear.items():
        yield f"| left of the narrowest gap, {what} | {left:.2f} mm | above 0 |"
    yield (
        f"| top plate bends under {cell.capacity_kg:g} kg, foot against mount"
        f" | {check.top_deflection:.2f} mm | small against the gap |"
    )
    yield (
        f"| its stress at the cell's safe load | {check.top_stress_MPa:.0f} MPa"
        f" | below {check.yield_MPa:g} MPa |"
    )
    yield ""
