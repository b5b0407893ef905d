"""Pictures of a scoring: what the table's numbers hide. Needs matplotlib (extra ``sim``)."""

from collections.abc import Callable, Sequence
from pathlib import Path

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from drainscale_sim.score.answer import Answer
from drainscale_sim.score.plots_errors import close_flows, errors_against_U
from drainscale_sim.score.plots_reliability import finish_reliability, opening_reliability
from drainscale_sim.score.plots_service import service
from drainscale_sim.score.replays import Replayed
from drainscale_sim.score.truth import Truth, read_truth

DOTS_PER_INCH = 110
SHOWN_SERVICES = 3

Pair = tuple[Answer, Truth]


def write_plots(replays: Sequence[Replayed], folder: Path) -> list[Path]:
    """Draw all pictures of a scoring.

    Args:
        replays: What the recordings gave; those that failed are left out.
        folder: Receives the PNG files.

    Returns:
        The files written.
    """
    pairs = [
        (Answer(one.answer), read_truth(one.case.truth))
        for one in replays
        if isinstance(one.answer, dict)
    ]
    folder.mkdir(parents=True, exist_ok=True)
    drawings: list[tuple[str, Callable[[Figure], None]]] = [
        ("reliability-opens", lambda figure: opening_reliability(figure, pairs)),
        ("reliability-finish", lambda figure: finish_reliability(figure, pairs)),
        ("error-against-U", lambda figure: errors_against_U(figure, pairs)),
        ("close-flow", lambda figure: close_flows(figure, pairs)),
    ]
    drawings += [(f"service-{pair[1].name}", _of_service(pair)) for pair in _shown(pairs)]
    return [_write(folder / f"{name}.png", draw) for name, draw in drawings]


def _of_service(pair: Pair) -> Callable[[Figure], None]:
    return lambda figure: service(figure, *pair)


def _write(path: Path, draw: Callable[[Figure], None]) -> Path:
    figure = Figure(layout="constrained")
    FigureCanvasAgg(figure)
    draw(figure)
    figure.savefig(path, dpi=DOTS_PER_INCH)
    return path


def _shown(pairs: Sequence[Pair]) -> list[Pair]:
    """The first recording of each outcome, a few of them."""
    by_outcome: dict[str, Pair] = {}
    for pair in pairs:
        by_outcome.setdefault(pair[1].outcome, pair)
    return list(by_outcome.values())[:SHOWN_SERVICES]
