"""Flow over time, as told and as it was: the drain in one panel, the spill in the other."""

from math import nan

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from drainscale_sim.score.flows import Told
from drainscale_sim.score.truth import Truth

TOLD, TRUE = "#c75000", "#0b5fa5"
LEAST_ML_PER_MIN = 0.5
MARGIN_S = 20.0


def flows(figure: Figure, told: Told, truth: Truth) -> None:
    """Draw what was told of drain and spill against the truth."""
    figure.set_size_inches(9.0, 7.2)
    drain, spill = figure.subplots(2, 1)
    times, limits = truth.times, truth.limits
    flow_over_time(drain, told, truth, "drain")
    drain.axhline(limits.drip_flow_mL_per_min, color="0.3", linewidth=1, linestyle=":")
    _span(drain, truth.drained.stages[0].started_s, truth.drained.stages[-1].ended_s)
    for stage in truth.drained.stages:
        if stage.dripped_s is not None:
            drain.axvline(stage.dripped_s / 60.0, color=TRUE, linewidth=0.8)
    flow_over_time(spill, told, truth, "spill")
    spill.axhline(limits.close_flow_mL_per_min, color="0.3", linewidth=1, linestyle=":")
    _span(spill, times.plug_opened_s, times.plug_shut_s)
    spill.set_xlabel("time, min")
    figure.suptitle(f"{truth.name}: flow told each second, dotted: drip and close limits")


def flow_over_time(axes: Axes, told: Told, truth: Truth, what: str) -> None:
    """Draw the two courses on a logarithmic scale; less than half a mL/min is left out."""
    flow = truth.grid.flow_mL_per_min
    t = [i * truth.grid.dt_s / 60.0 for i in range(len(flow))]
    true = [nan if one is None else _shown(one) for one in flow]
    axes.plot([one / 60.0 for one, _ in told], [_shown(q) for _, q in told], color=TOLD,
              linewidth=1.2, label="told")  # fmt: skip
    axes.plot(t, true, color=TRUE, linestyle="--", linewidth=1.2, label="true")
    axes.set_yscale("log")
    axes.set_ylabel(f"{what}, mL/min")
    axes.set_ylim(bottom=LEAST_ML_PER_MIN)
    axes.legend(loc="upper right")


def _shown(flow_mL_per_min: float) -> float:
    return flow_mL_per_min if flow_mL_per_min >= LEAST_ML_PER_MIN else nan


def _span(axes: Axes, from_s: float, until_s: float) -> None:
    axes.set_xlim((from_s - MARGIN_S) / 60.0, (until_s + MARGIN_S) / 60.0)
    axes.grid(alpha=0.3)
