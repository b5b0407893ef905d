"""Whether forecasts hold what they promise: promised probability against observed share."""

from collections.abc import Sequence
from math import erf, sqrt

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from drainscale_sim.score.answer import Answer
from drainscale_sim.score.judge_forecasts import OPENS_AHEAD_S, SHUT_LEAD_S, WARM_LEAD_S
from drainscale_sim.score.truth import Truth

Pair = tuple[Answer, Truth]
LEVELS = tuple(i / 20.0 for i in range(1, 20))
Z_90 = 1.6449  # half width of a normal distribution's 90 % interval, in standard deviations
COLOURS = ("#0b5fa5", "#c75000", "#3a7d34")  # told apart by the markers as well
MARKERS = ("o", "s", "^")
BINS = 5


def opening_reliability(figure: Figure, pairs: Sequence[Pair]) -> None:
    """Draw how often central intervals of any size held the true opening."""
    figure.set_size_inches(6.4, 6.0)
    axes = figure.add_subplot()
    for ahead_s, colour, marker in zip(OPENS_AHEAD_S, COLOURS, MARKERS, strict=True):
        needed = [level for pair in pairs if (level := _level_needed(*pair, ahead_s)) is not None]
        if needed:
            shares = [sum(one <= level for one in needed) / len(needed) for level in LEVELS]
            label = f"{ahead_s} s before (n = {len(needed)})"
            axes.plot(LEVELS, shares, color=colour, marker=marker, markersize=4, label=label)
    _diagonal(axes, "promised probability of the interval", "share that held the true opening")
    axes.set_title("Window opening: do the intervals hold?\nabove the line: wider than need be")
    axes.legend(loc="lower right")


def _level_needed(answer: Answer, truth: Truth, ahead_s: int) -> float | None:
    """How large a central interval had to be to hold the truth.

    Each side of the 90 % interval is taken for half of a normal distribution of its own.
    """
    true_s = truth.times.window_opens_s
    t = true_s - ahead_s
    if not truth.steps["warm"] + WARM_LEAD_S <= t <= truth.times.plug_shut_s - SHUT_LEAD_S:
        return None
    forecast = answer.forecast_at(t)
    if forecast is None:
        return None
    best_s, interval = forecast.number("opens_s"), forecast.interval("opens_90")
    if best_s is None or interval is None:
        return None
    side_s = interval[1] - best_s if true_s > best_s else best_s - interval[0]
    z = abs(true_s - best_s) / max(side_s / Z_90, 1e-6)
    return erf(z / sqrt(2.0))


def finish_reliability(figure: Figure, pairs: Sequence[Pair]) -> None:
    """Draw how often spills that were given a chance p did end inside the window."""
    figure.set_size_inches(6.4, 6.0)
    axes = figure.add_subplot()
    told = [one for pair in pairs for one in _finish_forecasts(*pair)]
    for i in range(BINS):
        low, high = i / BINS, (i + 1) / BINS
        inside = [(p, hit) for p, hit in told if low <= p < high or (p == high == 1.0)]
        if inside:
            p_mean = sum(p for p, _ in inside) / len(inside)
            share = sum(hit for _, hit in inside) / len(inside)
            axes.plot(p_mean, share, "o", color=COLOURS[0], markersize=8)
            down = share > 0.5
            axes.annotate(
                f"{len(inside)}", (p_mean, share), textcoords="offset points",
                xytext=(0, -16 if down else 9), ha="center",
            )  # fmt: skip
    _diagonal(axes, "probability told: ends inside the window", "share that did")
    title = "Spill: does it end inside the window?\n"
    axes.set_title(title + "every forecast before the end; numbers: forecasts, not services")


def _finish_forecasts(answer: Answer, truth: Truth) -> list[tuple[float, bool]]:
    thin_s = truth.times.spill_below_close_limit_s
    if thin_s is None:
        return []
    until_s = min(thin_s, truth.times.window_closes_s, truth.times.plug_shut_s)
    hit = thin_s <= truth.times.window_closes_s
    return [
        (p, hit)
        for one in answer.forecasts
        if truth.times.plug_opened_s + WARM_LEAD_S <= one.t <= until_s
        and (p := one.number("p_finish_in_window")) is not None
    ]


def _diagonal(axes: Axes, x: str, y: str) -> None:
    axes.plot((0, 1), (0, 1), color="0.6", linewidth=1, linestyle="--")
    axes.set(xlim=(-0.03, 1.03), ylim=(-0.06, 1.06), xlabel=x, ylabel=y)
    axes.grid(alpha=0.3)
