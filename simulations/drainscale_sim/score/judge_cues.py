"""Compare the cues about refill, level check and container with what was due."""

from drainscale_sim.score.answer import Answer
from drainscale_sim.score.tally import Tally
from drainscale_sim.score.truth import Truth

CLEAR_REFILL_L = 0.020  # nearer to the target than this, either answer is right
REACHED_WITHIN_S = 2.0
CLEARLY_BELOW_K = 4.0  # a plug shut so far below the upper limit needed no hurry
CLEARLY_LATE_S, CLEARLY_IN_TIME_S = 20.0, 30.0


def judge_cues(answer: Answer, truth: Truth, tally: Tally) -> None:
    """Compare every cue that is not about opening or shutting the plug."""
    _refill_reached(answer, truth, tally)
    _will_overrun(answer, truth, tally)
    _no_spill(answer, truth, tally)
    _window_closing(answer, truth, tally)
    _container_full(answer, truth, tally)
    _verdict(answer, truth, tally)


def _refill_reached(answer: Answer, truth: Truth, tally: Tally) -> None:
    refill, told_s = truth.refill, answer.first("refill-reached")
    beyond_L = refill.added_volume_20C_L - refill.target_volume_20C_L
    if refill.reached_s is not None and beyond_L > CLEAR_REFILL_L:
        tally.count("refill_reached.missed", told_s is None)
        late_s = None if told_s is None else told_s - refill.reached_s
        in_time = late_s is not None and abs(late_s) <= REACHED_WITHIN_S
        tally.count("refill_reached.in_time", in_time)
        if late_s is not None:
            tally.add("refill_reached.delay_s", late_s)
    elif beyond_L < -CLEAR_REFILL_L:
        tally.count("refill_reached.false", told_s is not None)


def _will_overrun(answer: Answer, truth: Truth, tally: Tally) -> None:
    times, told_s = truth.times, answer.first("will-overrun")
    thin_s, closes_s = times.spill_below_close_limit_s, times.window_closes_s
    if told_s is not None:
        tally.count("will_overrun.right", truth.overruns)
    if thin_s is not None and truth.overruns:
        in_time = told_s is not None and told_s <= closes_s
        tally.count("will_overrun.found", in_time)
        if thin_s - closes_s > CLEARLY_LATE_S:
            tally.count("will_overrun.clear_found", in_time)
        if told_s is not None and in_time:
            tally.add("will_overrun.lead_s", closes_s - told_s)
        return
    tally.count("will_overrun.false", told_s is not None)
    if thin_s is None or closes_s - thin_s > CLEARLY_IN_TIME_S:
        tally.count("will_overrun.clear_false", told_s is not None)


def _no_spill(answer: Answer, truth: Truth, tally: Tally) -> None:
    told_s, times = answer.first("no-spill"), truth.times
    if truth.outcome != "no-spill":
        tally.count("no_spill.false", told_s is not None)
        return
    found = told_s is not None and times.plug_opened_s <= told_s <= times.plug_shut_s + 1.0
    tally.count("no_spill.found", found)
    if truth.has_level_mark:
        tally.count("no_spill.marked_found", found)
    if found and told_s is not None:
        tally.add("no_spill.delay_s", told_s - times.plug_opened_s)


def _window_closing(answer: Answer, truth: Truth, tally: Tally) -> None:
    """Judge recordings whose plug is open and spilling at the upper limit."""
    told_s, times, high_C = answer.first("window-closing"), truth.times, truth.limits.window_C[1]
    if truth.overruns and times.window_closes_s < times.plug_shut_s:
        tally.count("window_closing.missed", told_s is None)
        in_time = told_s is not None and truth.fluid_C(told_s) <= high_C
        tally.count("window_closing.in_time", in_time)
        if told_s is not None:
            tally.count("window_closing.told_in_time", in_time)
            tally.add("window_closing.below_upper_K", high_C - truth.fluid_C(told_s))
        return
    shut_early = times.plug_shut_s < times.window_closes_s
    if shut_early and high_C - truth.fluid_C(times.plug_shut_s) > CLEARLY_BELOW_K:
        tally.count("window_closing.false", told_s is not None)


def _container_full(answer: Answer, truth: Truth, tally: Tally) -> None:
    told_s, full_s = answer.first("container-full"), truth.times.container_full_s
    if full_s is None:
        tally.count("container_full.false", told_s is not None)
        return
    tally.count("container_full.found", told_s is not None)
    if told_s is not None:
        tally.add("container_full.delay_s", told_s - full_s)


def _verdict(answer: Answer, truth: Truth, tally: Tally) -> None:
    right = answer.value("level", "verdict") == truth.due_verdict
    tally.count("verdict.right", right)
    tally.count("verdict.border_right" if truth.is_near_border else "verdict.clear_right", right)
