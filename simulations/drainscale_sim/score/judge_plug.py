"""Compare the cues to open and to shut the plug with the true fluid and the true flow."""

from drainscale_sim.score.answer import Answer
from drainscale_sim.score.judge_quantities import compare
from drainscale_sim.score.tally import Tally
from drainscale_sim.score.truth import Truth

OPEN_DUE_S = 60.0  # a plug open so long after the window opened: the cue was due
NEAR_LEAD_S = 90.0
CLEAR_OF_LOWER_K = 1.5  # thinner below this, the cue may wait for the estimate
HOT_WINDOW_C = 50.0  # a window above this is judged by a limit of its own


def judge_plug(answer: Answer, truth: Truth, tally: Tally) -> None:
    """Compare every cue about the plug, and the figures at its closing."""
    _open_plug(answer, truth, tally)
    _window_near(answer, truth, tally)
    _close_plug(answer, truth, tally)
    _first_version_close(answer, truth, tally)


def _open_plug(answer: Answer, truth: Truth, tally: Tally) -> None:
    told_s, times = answer.first("open-plug"), truth.times
    low_C, high_C = truth.limits.window_C
    if times.window_opens_s + OPEN_DUE_S < times.plug_shut_s:
        tally.count("open_plug.missed", told_s is None)
    if told_s is None:
        return
    above_K = truth.fluid_C(told_s) - low_C
    outside_K = max(-above_K, truth.fluid_C(told_s) - high_C, 0.0)
    tally.count("open_plug.below_lower", above_K < 0.0)
    tally.count("open_plug.outside", outside_K > 0.0)
    tally.add("open_plug.outside_by_K", outside_K)
    tally.add("open_plug.above_lower_K", above_K)
    tally.add("open_plug.above_lower_K." + ("hot" if low_C >= HOT_WINDOW_C else "usual"), above_K)
    tally.add("open_plug.delay_s", told_s - times.window_opens_s)
    tally.count("open_plug.before_technician", told_s <= times.plug_opened_s)


def _window_near(answer: Answer, truth: Truth, tally: Tally) -> None:
    """The contract's rule on the truth: ``approach_K`` below or 90 s before, whichever is first."""
    limits, times, grid = truth.limits, truth.times, truth.grid
    near_C = limits.window_C[0] - limits.approach_K
    first = int(times.engine_on_s)
    warm = (
        index * grid.dt_s
        for index, fluid_C in enumerate(grid.fluid_C)
        if index >= first and fluid_C is not None and fluid_C >= near_C
    )
    due_s = min(next(warm, float("inf")), times.window_opens_s - NEAR_LEAD_S)
    if not truth.steps["warm"] + 15.0 < due_s < times.plug_shut_s - 30.0:
        return
    told_s = answer.first("window-near")
    tally.count("window_near.missed", told_s is None)
    if told_s is not None:
        tally.add("window_near.delay_s", told_s - due_s)
        tally.add("window_near.abs_delay_s", abs(told_s - due_s))


def _close_plug(answer: Answer, truth: Truth, tally: Tally) -> None:
    times, told_s = truth.times, answer.first("close-plug")
    thin_s = times.spill_below_close_limit_s
    if thin_s is None:
        tally.count("close_plug.not_due", told_s is not None)
    elif not times.spill_below_close_in_recording:
        return
    elif truth.fluid_C(thin_s) < truth.limits.window_C[0] + CLEAR_OF_LOWER_K:
        tally.count("close_plug.near_lower", told_s is not None)
    else:
        tally.count("close_plug.missed", told_s is None)
        if told_s is not None:
            _close_cue(truth, told_s, thin_s, tally)
            _level_figures(answer, truth, tally)


def _close_cue(truth: Truth, told_s: float, thin_s: float, tally: Tally) -> None:
    to_limit = _flow_to_limit(truth, told_s)
    excess_mL = truth.excess_mL(min(told_s, truth.times.plug_shut_s - 1.0))
    tally.count("close_plug.after_shut", told_s >= truth.times.plug_shut_s)
    tally.add("close_plug.flow_to_limit", to_limit)
    tally.count("close_plug.near_limit", 0.8 <= to_limit <= 1.2)
    tally.count("close_plug.premature", to_limit > 1.5)
    tally.add("close_plug.delay_s", told_s - thin_s)
    tally.add("close_plug.abs_delay_s", abs(told_s - thin_s))
    tally.add("close_plug.excess_mL", excess_mL)
    tally.add("close_plug.excess_beyond_limit_mL", excess_mL - truth.excess_mL(thin_s))


def _flow_to_limit(truth: Truth, t: float) -> float:
    """Return true flow over the close limit at ``t``, held inside the open plug's time."""
    held_s = max(min(t, truth.times.plug_shut_s - 1.0), truth.times.plug_opened_s + 1.0)
    return truth.flow_mL_per_min(held_s) / truth.limits.close_flow_mL_per_min


def _level_figures(answer: Answer, truth: Truth, tally: Tally) -> None:
    """The figures under ``level`` belong to the last ``close-plug``."""
    t = min(answer.times("close-plug")[-1], truth.times.plug_shut_s - 1.0)
    flow = answer.number("level", "flow_at_close_mL_per_min")
    if flow is not None:
        tally.add("level.flow_relative_error", flow / max(truth.flow_mL_per_min(t), 1e-3) - 1.0)
    fluid_C = answer.number("level", "temperature_at_close_C")
    compare(tally, "level.fluid_K", fluid_C, truth.fluid_C(t), 1.0)
    if fluid_C is not None:
        expanded_K = answer.number("level", "U_temperature_C")
        held = expanded_K is not None and abs(fluid_C - truth.fluid_C(t)) <= expanded_K
        tally.count("level.fluid_K.within_U", held)
    excess_mL = answer.number("level", "excess_left_mL")
    compare(tally, "level.excess_mL", excess_mL, truth.excess_mL(t), 1.0)


def _first_version_close(answer: Answer, truth: Truth, tally: Tally) -> None:
    """The plain question, wherever the truth has a close time: was the flow about right?"""
    times, told_s = truth.times, answer.first("close-plug")
    if times.spill_below_close_limit_s is None or not times.spill_below_close_in_recording:
        return
    about_right = told_s is not None and 0.5 <= _flow_to_limit(truth, told_s) <= 1.5
    tally.count("close_plug.about_right", about_right)
