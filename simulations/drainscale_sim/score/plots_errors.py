"""How large errors are beside the uncertainties that were told, and where the close cue came."""

from collections.abc import Sequence

from matplotlib.figure import Figure
from matplotlib.ticker import NullFormatter

from drainscale_sim.score.answer import Answer
from drainscale_sim.score.judge import judge
from drainscale_sim.score.truth import Truth

Pair = tuple[Answer, Truth]
PANELS = (
    ("drained", "volume_L"),
    ("refill", "volume_20C_L"),
    ("spill", "volume_L"),
    ("net", "volume_20C_L"),
)
LEAST_ML = 0.01
TICKS_ML = (0.01, 0.1, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)
COLOUR = "#0b5fa5"


def errors_against_U(figure: Figure, pairs: Sequence[Pair]) -> None:
    """Draw the size of each amount's error against its U (k = 2): below the line is covered."""
    figure.set_size_inches(8.0, 7.2)
    grid = figure.subplots(2, 2)
    for axes, (part, key) in zip(grid.flat, PANELS, strict=True):
        points = [point for pair in pairs if (point := _point(*pair, part, key)) is not None]
        if not points:
            axes.set_title(f"{part}: no case")
            continue
        inside = sum(error <= U for U, error in points)
        told, errors = [U for U, _ in points], [error for _, error in points]
        axes.loglog(told, errors, "o", color=COLOUR, markersize=4, alpha=0.7)
        ends = (0.7 * min(told), 1.4 * max(told))
        axes.plot(ends, ends, color="0.4", linewidth=1, linestyle="--")
        axes.set_xticks([one for one in TICKS_ML if ends[0] <= one <= ends[1]])
        axes.set_yticks([one for one in TICKS_ML if min(errors) <= one <= ends[1]])
        for one in (axes.xaxis, axes.yaxis):
            one.set_major_formatter(lambda value, _: f"{value:g}")
            one.set_minor_formatter(NullFormatter())
        axes.set_title(f"{part}: {inside} of {len(points)} within U")
        axes.set(xlabel="U told (k = 2), mL", ylabel="size of the error, mL", xlim=ends)
        axes.grid(alpha=0.3, which="both")
    figure.suptitle("Error against its uncertainty (dashed: as large as U)")


def _point(answer: Answer, truth: Truth, part: str, key: str) -> tuple[float, float] | None:
    told_key = "added_volume_20C_L" if part == "refill" else key
    told, U = answer.number(part, told_key), answer.number(part, "U_volume_L")
    if told is None or not U or (part == "spill" and truth.outcome == "no-spill"):
        return None
    true = {
        "drained": truth.drained.volume_L,
        "refill": truth.refill.added_volume_20C_L,
        "spill": truth.spill.volume_L,
        "net": truth.net.volume_20C_L,
    }[part]
    return 1000.0 * U, max(1000.0 * abs(told - true), LEAST_ML)


def close_flows(figure: Figure, pairs: Sequence[Pair]) -> None:
    """Draw the true flow at the close cue, in units of the job's limit."""
    figure.set_size_inches(7.0, 4.4)
    axes = figure.add_subplot()
    ratios = [
        ratio for pair in pairs for ratio in judge(*pair).values.get("close_plug.flow_to_limit", [])
    ]
    edges = [0.05 * i for i in range(41)]
    axes.hist([min(one, edges[-1]) for one in ratios], bins=edges, color=COLOUR, alpha=0.8)
    axes.axvspan(0.8, 1.2, color="#3a7d34", alpha=0.15, label="0.8 to 1.2 of the limit")
    axes.axvline(1.0, color="0.3", linewidth=1, linestyle="--", label="the limit")
    axes.set(xlabel="true flow / limit at the close cue (beyond 2: last bar)", ylabel="services")
    axes.set_title(f"Close cue: {len(ratios)} services")
    axes.legend(loc="upper left")
    axes.grid(alpha=0.3, axis="y")
