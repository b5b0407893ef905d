"""Pictures of a scoring: what the table's numbers hide. Needs matplotlib (extra ``sim``)."""

from collections.abc import Callable, Sequence
from pathlib import Path

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from drainscale.errors import InputError
from drainscale_sim.score.answer import Answer
from drainscale_sim.score.flows import told_flow
from drainscale_sim.score.plots_errors import close_flows, errors_against_U
from drainscale_sim.score.plots_flow import flows
from drainscale_sim.score.plots_reliability import finish_reliability, opening_reliability
from drainscale_sim.score.plots_service import service
from drainscale_sim.score.replays import Case, Replayed
from drainscale_sim.score.truth import Truth, read_truth

DOTS_PER_INCH = 110
SHOWN_SERVICES = 3

Known = tuple[Case, Answer, Truth]
Drawing = tuple[str, Callable[[Figure], None]]


def write_plots(replays: Sequence[Replayed], folder: Path) -> list[Path]:
    """Draw all pictures of a scoring.

    Args:
        replays: What the recordings gave; those that failed are left out.
        folder: Receives the PNG files.

    Returns:
        The files written.
    """
    known = [
        (one.case, Answer(one.answer), read_truth(one.case.truth))
        for one in replays
        if isinstance(one.answer, dict)
    ]
    pairs = [(answer, truth) for _, answer, truth in known]
    folder.mkdir(parents=True, exist_ok=True)
    drawings: list[Drawing] = [
        ("reliability-opens", lambda figure: opening_reliability(figure, pairs)),
        ("reliability-finish", lambda figure: finish_reliability(figure, pairs)),
        ("error-against-U", lambda figure: errors_against_U(figure, pairs)),
        ("close-flow", lambda figure: close_flows(figure, pairs)),
    ]
    for one in _shown(known):
        drawings += _of_service(*one)
    return [_write(folder / f"{name}.png", draw) for name, draw in drawings]


def _of_service(case: Case, answer: Answer, truth: Truth) -> list[Drawing]:
    try:
        told = told_flow(case)
    except InputError:  # answers are judged without their recordings: what was true is drawn
        told = []
    return [
        (f"service-{truth.name}", lambda figure: service(figure, answer, told, truth)),
        (f"flow-{truth.name}", lambda figure: flows(figure, told, truth)),
    ]


def _write(path: Path, draw: Callable[[Figure], None]) -> Path:
    figure = Figure(layout="constrained")
    FigureCanvasAgg(figure)
    draw(figure)
    figure.savefig(path, dpi=DOTS_PER_INCH)
    return path


def _shown(known: Sequence[Known]) -> list[Known]:
    """The first recording of each outcome, a few of them."""
    by_outcome: dict[str, Known] = {}
    for one in known:
        by_outcome.setdefault(one[2].outcome, one)
    return list(by_outcome.values())[:SHOWN_SERVICES]
