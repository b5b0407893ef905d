"""The budget for people: what the record will say, what the kit does beyond it, what to mend."""

from collections.abc import Iterator, Sequence

from drainscale.budget.halving import advice, what_halves
from drainscale.budget.kit import KitBudget
from drainscale.budget.kits import Kit
from drainscale.quantities.measured import Measured
from drainscale.quantities.units import G_PER_KG, ML_PER_L

_NAME, _CELL = 30, 12
_TRIFLE = 0.005  # of the variance: not worth a line


def budget_lines(budgets: Sequence[KitBudget]) -> Iterator[str]:
    """Write the budgets of some volumes side by side.

    Args:
        budgets: Of one kit, by rising volume.
    """
    records = [one.record for one in budgets]
    wholes = [one.whole for one in budgets]
    yield _row("drained, L at 20 °C", [f"{one.volume_20C_L:g}" for one in budgets])
    yield ""
    yield "As the record of a job tells it: standard uncertainty in mL, part of the variance"
    yield from _table(records)
    yield ""
    yield "The whole kit: the same, with what its platform does beyond that"
    yield from _table(wholes)
    yield ""
    yield from _verdict(budgets)
    yield "U is the expanded uncertainty, k = 2 (about 95 %). Not for trade."


def _table(columns: Sequence[Measured]) -> Iterator[str]:
    left_out = False
    for source in _sources(columns):
        cells = [_share(column, source) for column in columns]
        if any(cell for cell in cells):
            yield _row("  " + source, cells)
        else:
            left_out = True
    if left_out:
        yield "  (sources below half a percent of the variance are left out)"
    yield _row("  U, mL", [f"{ML_PER_L * one.U:.1f}" for one in columns])
    yield _row("  U, % of the volume", [f"{100.0 * one.U / one.value:.2f}" for one in columns])


def _sources(columns: Sequence[Measured]) -> list[str]:
    """All sources, the largest anywhere first."""
    largest: dict[str, float] = {}
    for column in columns:
        for share in column.shares:
            largest[share.source] = max(largest.get(share.source, 0.0), share.fraction)
    return sorted(largest, key=lambda source: -largest[source])


def _share(column: Measured, source: str) -> str:
    for share in column.shares:
        if share.source == source and share.fraction >= _TRIFLE:
            return f"{ML_PER_L * share.u:.2f} {100.0 * share.fraction:3.0f} %"
    return ""


def _verdict(budgets: Sequence[KitBudget]) -> Iterator[str]:
    for one in budgets:
        first = one.whole.shares[0]
        halving = what_halves(one.whole)
        part = 100.0 * first.fraction
        yield f"{one.volume_20C_L:g} L: {first.source} dominates ({part:.0f} % of the variance)"
        to = f"to {100.0 * halving.to:.0f} % of its size" if halving.to else "to nothing"
        yield f"    U is halved by bringing each of these {to}:"
        yield from (f"    - {source}: {advice(source)}" for source in halving.sources)
    yield from _repeatability(budgets[-1])


def _repeatability(one: KitBudget) -> Iterator[str]:
    said_g, held_g = G_PER_KG * one.said_u_kg, G_PER_KG * one.held_u_kg
    yield f"repeatability of a reading: {said_g:.2f} g as given; {held_g:.2f} g by the cell's class"
    if one.advised_u_kg > one.said_u_kg:
        advised = f"repeatability_u_kg = {one.advised_u_kg:.4f}"
        yield f"    with {advised} in the bench file the record tells the whole kit"


def kits_lines(kits: Sequence[Kit], volumes_L: Sequence[float]) -> Iterator[str]:
    """Compare kits: U of each volume in mL."""
    yield _row("drained, L at 20 °C", [f"{volume:g}" for volume in volumes_L])
    for kit in kits:
        wholes = [kit.budget(volume).whole for volume in volumes_L]
        yield _row(f"  {kit.name}: U, mL", [f"{ML_PER_L * one.U:.0f}" for one in wholes])
        yield f"     {kit.says}"
        yield f"     dominated by {wholes[-1].shares[0].source}"
    yield "U is the expanded uncertainty, k = 2 (about 95 %). Not for trade."


def _row(name: str, cells: Sequence[str]) -> str:
    return f"{name:<{_NAME}}" + "".join(f"{cell:>{_CELL}}" for cell in cells)
