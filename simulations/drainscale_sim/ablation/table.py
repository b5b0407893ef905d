"""The findings as a table: for the terminal, or in Markdown for the docs."""

from collections.abc import Iterable, Iterator

from drainscale_sim.ablation.cost import Finding, Move

SHOWN = 4


def lines(findings: Iterable[Finding]) -> Iterator[str]:
    """Write a paragraph a part, for a terminal."""
    for one in findings:
        yield f"{one.part.key}: {one.part.what} -> {one.part.instead}"
        yield f"    answers changed: {one.changed} of {one.recordings}{_broken(one)}"
        for move in _shown(one):
            yield f"    {_told(move)}"
        yield ""


def markdown(findings: Iterable[Finding]) -> Iterator[str]:
    """Write the rows of a Markdown table."""
    yield "| part | without it | answers changed | what it costs (with → without) |"
    yield "|---|---|---|---|"
    for one in findings:
        told = "; ".join(_told(move) for move in _shown(one)) or "nothing to speak of"
        changed = f"{one.changed} of {one.recordings}{_broken(one)}"
        yield f"| {one.part.what} | {one.part.instead} | {changed} | {told} |"


def _broken(finding: Finding) -> str:
    return f", {finding.failed} break" if finding.failed else ""


def _shown(finding: Finding) -> list[Move]:
    """The dearest moves, musts lost first, and the two greatest gains."""
    worse = [move for move in finding.moves if move.cost > 0.0 or move.loses_must]
    better = [move for move in reversed(finding.moves) if move.cost < 0.0 and not move.loses_must]
    return worse[:SHOWN] + better[:2]


def _told(move: Move) -> str:
    mark = " **short**" if move.loses_must else " (better)" if move.cost < 0.0 else ""
    unit = f" {move.figure.unit}" if move.figure.unit else ""
    return f"{move.figure.name} {_number(move.before)} → {_number(move.after)}{unit}{mark}"


def _number(value: float) -> str:
    size = abs(value)
    return f"{value:.0f}" if size >= 99.95 else f"{value:.1f}" if size >= 9.995 else f"{value:.2f}"
