"""One service: the fluid as told and as it was, when the window was foreseen, flow and cues."""

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from drainscale_sim.score.answer import Answer, SeenEvent
from drainscale_sim.score.flows import Told
from drainscale_sim.score.plots_flow import LEAST_ML_PER_MIN, TOLD, TRUE, flow_over_time
from drainscale_sim.score.truth import Truth

CUES = ("window-near", "open-plug", "will-overrun", "close-plug", "window-closing", "no-spill")


def service(figure: Figure, answer: Answer, told: Told, truth: Truth) -> None:
    """Draw one service from the engine start on, three panels above each other."""
    figure.set_size_inches(9.0, 9.6)
    grid = figure.subplots(3, 1, sharex=True)
    from_s = truth.times.engine_on_s
    until_s = min(truth.times.plug_shut_s + 60.0, truth.duration_s)
    _fluid(grid[0], answer, truth)
    _opening(grid[1], answer, truth)
    _flow(grid[2], told, truth)
    cues = [one for one in answer.events if one.event in CUES and from_s <= one.t <= until_s]
    for axes in grid:
        axes.set_xlim(from_s / 60.0, until_s / 60.0)
        axes.grid(alpha=0.3)
        _cues(axes, cues)
    grid[2].set_xlabel("time, min")
    verdicts = f"due {truth.outcome}, told {answer.value('level', 'verdict')}"
    figure.suptitle(f"{truth.name}: {verdicts}\n{_listed(cues)}", fontsize=10)


def _fluid(axes: Axes, answer: Answer, truth: Truth) -> None:
    low_C, high_C = truth.limits.window_C
    axes.axhspan(low_C, high_C, color="#3a7d34", alpha=0.12, label="window")
    known = [
        (one.t / 60.0, fluid_C, U_K)
        for one in answer.forecasts
        if (fluid_C := one.number("fluid_C")) is not None
        and (U_K := one.number("U_fluid_C")) is not None
    ]
    t = [point[0] for point in known]
    lower, upper = [C - U for _, C, U in known], [C + U for _, C, U in known]
    axes.fill_between(t, lower, upper, color=TOLD, alpha=0.2, label="told, ± U (k = 2)")
    axes.plot(t, [C for _, C, _ in known], color=TOLD, linewidth=1.2, label="told")
    grid_t = [i * truth.grid.dt_s / 60.0 for i in range(len(truth.grid.fluid_C))]
    true_C = [float("nan") if one is None else one for one in truth.grid.fluid_C]
    axes.plot(grid_t, true_C, color=TRUE, linewidth=1.2, linestyle="--", label="true")
    axes.set_ylabel("fluid, °C")
    axes.legend(loc="lower right")


def _opening(axes: Axes, answer: Answer, truth: Truth) -> None:
    true_s = truth.times.window_opens_s
    known = [
        (one.t / 60.0, best - true_s, (interval[0] - true_s, interval[1] - true_s))
        for one in answer.forecasts
        if (best := one.number("opens_s")) is not None
        and (interval := one.interval("opens_90")) is not None
    ]
    t = [point[0] for point in known]
    low, high = [ends[0] for _, _, ends in known], [ends[1] for _, _, ends in known]
    axes.fill_between(t, low, high, color=TOLD, alpha=0.2, label="90 % interval")
    axes.plot(t, [late for _, late, _ in known], color=TOLD, linewidth=1.2, label="told")
    axes.axhline(0.0, color=TRUE, linestyle="--", linewidth=1.2, label="true")
    axes.set(ylabel="window opens,\ns after it truly did", ylim=(-250.0, 350.0))
    axes.legend(loc="upper right")


def _flow(axes: Axes, told: Told, truth: Truth) -> None:
    flow_over_time(axes, told, truth, "spill")
    limit = truth.limits.close_flow_mL_per_min
    axes.axhline(limit, color="0.3", linewidth=1, linestyle=":", label="close limit")
    axes.set_ylim(LEAST_ML_PER_MIN, 3000.0)
    axes.legend(loc="upper left")


def _cues(axes: Axes, told: list[SeenEvent]) -> None:
    for one in told:
        axes.axvline(one.t / 60.0, color="0.35", linewidth=0.8)


def _listed(told: list[SeenEvent]) -> str:
    """The cues with their times, in the order of the lines."""
    return ", ".join(f"{one.event} {int(one.t // 60)}:{int(one.t % 60):02d}" for one in told)
