"""Compare fluid temperature, window forecasts and finish forecasts with the truth."""

from math import ceil

from drainscale_sim.score.answer import Answer
from drainscale_sim.score.tally import Tally
from drainscale_sim.score.truth import Truth

OPENS_AHEAD_S = (240, 120, 60)
CLOSES_AHEAD_S = (120, 60)
FINISH_AHEAD_S = (60, 30)
WARM_LEAD_S = 15.0  # what a forecast may need after the warm-up began
SHUT_LEAD_S = 5.0
EVERY_S = 5.0  # forecasts come at least so often
JUDGED_AFTER_OPENING_S = 40.0  # the finish probability is judged so long after the opening


def judge_forecasts(answer: Answer, truth: Truth, tally: Tally) -> None:
    """Compare every forecast of one recording."""
    _fluid(answer, truth, tally)
    times = truth.times
    for ahead_s in OPENS_AHEAD_S:
        _limit(answer, truth, tally, "opens", times.window_opens_s, ahead_s)
    for ahead_s in CLOSES_AHEAD_S:
        _limit(answer, truth, tally, "closes", times.window_closes_s, ahead_s)
    _slots(answer, truth, tally)
    if times.spill_below_close_limit_s is not None:
        _finish(answer, truth, tally, times.spill_below_close_limit_s)


def _judged_from_s(truth: Truth) -> float:
    return truth.steps["warm"] + WARM_LEAD_S


def _fluid(answer: Answer, truth: Truth, tally: Tally) -> None:
    for forecast in answer.forecasts:
        if not _judged_from_s(truth) <= forecast.t <= truth.times.plug_shut_s:
            continue
        fluid_C, expanded_K = forecast.number("fluid_C"), forecast.number("U_fluid_C")
        tally.count("fluid_K.null", fluid_C is None)
        if fluid_C is None:
            continue
        error_K = abs(fluid_C - truth.fluid_C(forecast.t))
        tally.add("fluid_K.abs_error", error_K)
        tally.count("fluid_K.within_U", expanded_K is not None and error_K <= expanded_K)
        if expanded_K is not None:
            tally.add("fluid_K.U", expanded_K)


def _limit(
    answer: Answer, truth: Truth, tally: Tally, which: str, true_s: float, ahead_s: int
) -> None:
    """Judge the forecast of one window limit, as it stood ``ahead_s`` before."""
    t = true_s - ahead_s
    if not _judged_from_s(truth) <= t <= truth.times.plug_shut_s - SHUT_LEAD_S:
        return
    name = f"{which}_{ahead_s}"
    forecast = answer.forecast_at(t)
    told_s = forecast.number(f"{which}_s") if forecast else None
    tally.count(f"{name}.missing", told_s is None)
    if forecast is None or told_s is None:
        return
    tally.add(f"{name}.error_s", told_s - true_s)
    tally.add(f"{name}.abs_error_s", abs(told_s - true_s))
    interval = forecast.interval(f"{which}_90")
    tally.count(f"{name}.holds", interval is not None and interval[0] <= true_s <= interval[1])
    if interval is not None:
        tally.add(f"{name}.width_s", interval[1] - interval[0])


def _slots(answer: Answer, truth: Truth, tally: Tally) -> None:
    """Count where no forecast is in force though one is due."""
    from_s = _judged_from_s(truth)
    slots = ceil((truth.times.plug_shut_s - SHUT_LEAD_S - from_s) / EVERY_S)
    for slot in range(slots):
        missing = answer.forecast_at(from_s + slot * EVERY_S) is None
        tally.count("forecast.slot_missing", missing)


def _finish(answer: Answer, truth: Truth, tally: Tally, thin_s: float) -> None:
    times = truth.times
    for ahead_s in FINISH_AHEAD_S:
        if thin_s - ahead_s < times.plug_opened_s + WARM_LEAD_S:
            continue
        forecast = answer.forecast_at(thin_s - ahead_s)
        told_s = forecast.number("finishes_s") if forecast else None
        tally.count(f"finishes_{ahead_s}.missing", told_s is None)
        if told_s is not None:
            tally.add(f"finishes_{ahead_s}.abs_error_s", abs(told_s - thin_s))
    judged_s = min(times.plug_opened_s + JUDGED_AFTER_OPENING_S, thin_s, times.window_closes_s)
    forecast = answer.forecast_at(judged_s)
    p = forecast.number("p_finish_in_window") if forecast else None
    tally.count("p_finish.missing", p is None)
    if p is not None:  # Brier, Monthly Weather Review 78 (1950) 1, for one class of two
        tally.add("p_finish.brier", (p - (thin_s <= times.window_closes_s)) ** 2)
