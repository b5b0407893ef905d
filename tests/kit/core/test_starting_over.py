"""Plug shut too hot, engine off, cooled, warmed again: live and replay go by the marks alone."""

from dataclasses import replace
from functools import cache

import pytest
from tests.kit.core.bench import Spill, answered, times
from tests.kit.core.overrun import Cooled, overrun, second_attempt

from drainscale.core import Live, Service
from drainscale.procedure.steps import Mode, Step
from drainscale.quantities.samples import PanReading, StepMark

WINDOW_C = (35.0, 45.0)
COLD_ENOUGH_C = 30.0  # 5 K below it; common practice, no source


@cache
def cooled(fluid_C: float) -> Cooled:
    """A bench that cooled to a temperature; look only, it is shared."""
    bench = overrun()
    bench.mark("warm")
    bench.cool_to(fluid_C)
    return bench


@cache
def started_over(*, is_start_marked: bool) -> Cooled:
    """The whole of it; look only."""
    bench = overrun()
    bench.mark("warm")
    bench.cool_to(28.0)
    second_attempt(bench, is_start_marked=is_start_marked)
    return bench


def fed(bench: Cooled) -> Service:
    service = Service(bench.job)
    for sample in bench.samples:
        service.feed(sample)
    return service


def look(bench: Cooled) -> Live:
    return fed(bench).live()


def marked_s(bench: Cooled, step: str) -> list[float]:
    return [one.t for one in bench.samples if isinstance(one, StepMark) and one.step == step]


def test_a_mark_of_warm_after_an_overrun_means_that_it_cools() -> None:
    service = fed(cooled(43.0))
    assert (service.situation.step, service.situation.mode) == (Step.WARM, Mode.COOLING)
    assert not service.situation.is_engine_on
    live = service.live()
    assert (live.cue.name, live.cue.reason) == ("wait", "cooling")


def test_while_it_cools_through_the_window_nothing_calls_to_the_plug() -> None:
    bench = started_over(is_start_marked=True)
    cools_s, starts_s = marked_s(bench, "warm")[1], marked_s(bench, "circulate")[1]
    answer = answered(bench)
    calls = ("window-near", "open-plug", "no-spill", "window-closing", "will-overrun")
    called = [t for event in calls for t in times(answer, event) if cools_s < t < starts_s]
    assert called == []
    assert not [one for one in answer["forecasts"] if cools_s < one["t"] < starts_s]


def test_the_fluid_is_followed_down_within_its_uncertainty() -> None:
    bench = cooled(28.0)
    service, off = Service(bench.job), []
    stopped_s, engine_s = bench.stopped_s, bench.engine_s
    assert stopped_s is not None
    assert engine_s is not None
    for sample in bench.samples:
        service.feed(sample)
        if isinstance(sample, PanReading) and sample.t > stopped_s + 60.0:
            live = service.live()
            true_C = bench.air_C + (bench.stopped_C - bench.air_C) * 2.718281828459045 ** (
                -(sample.t - stopped_s) / 900.0
            )
            assert live.fluid_C is not None
            assert live.U_fluid_C is not None
            off.append(abs(live.fluid_C - true_C) / live.U_fluid_C)
    assert sum(one <= 1.0 for one in off) > 0.9 * len(off)


def test_it_says_when_it_will_be_cold_enough_and_then_to_start_again() -> None:
    early = look(cooled(43.0))
    assert early.cold_enough_s is not None
    assert early.cold_enough_s > early.t + 300.0
    late = look(cooled(28.0))
    assert late.cold_enough_s == late.t
    assert (late.cue.name, late.cue.reason) == ("go-on", "start-again")


@pytest.mark.parametrize("is_start_marked", [True, False])
def test_the_second_attempt_is_judged_for_itself(is_start_marked: bool) -> None:
    """Without a mark of the start the pan's rise tells it."""
    bench = started_over(is_start_marked=is_start_marked)
    answer = answered(bench)
    assert len(times(answer, "open-plug")) == 2
    assert len(times(answer, "will-overrun")) == 1
    assert answer["level"]["verdict"] == "closed-in-window"
    low_C, high_C = WINDOW_C
    assert low_C <= answer["level"]["temperature_at_close_C"] <= high_C
    assert answer["spill"]["mass_kg"] == pytest.approx(bench.spilled_kg, abs=0.002)


def test_once_the_engine_runs_again_no_time_to_start_is_shown() -> None:
    assert look(started_over(is_start_marked=True)).cold_enough_s is None


def test_the_stop_itself_is_no_start() -> None:
    """For a minute the skin still goes up towards the fluid."""
    service = fed(cooled(43.0))
    assert service._story.temperature.rise_s is None


def test_a_mark_of_warm_after_a_level_that_is_right_is_no_cooling() -> None:
    bench = started_over(is_start_marked=True)
    service = fed(bench)
    service.feed(StepMark(bench.t, "warm"))
    assert service.situation.is_engine_on


def test_warm_said_again_above_the_window_lets_it_cool_before_anything_was_opened() -> None:
    bench = Cooled()
    bench.mark("circulate")
    bench.start_engine()
    bench.wait(20.0)
    bench.mark("warm")
    bench.warm_to(48.0)
    service = fed(bench)
    assert service.live().cue.reason == "window-missed"
    service.feed(StepMark(bench.t, "warm"))
    assert service.situation.mode is Mode.COOLING


@cache
def unannounced() -> Cooled:
    """After the plug was shut nobody says a word, and yet all is done again; look only."""
    bench = overrun()
    bench.samples = [one for one in bench.samples if one != StepMark(one.t, "seal")]
    bench.cool_to(28.0)
    bench.warm_up = replace(bench.warm_up, tau_s=1400.0)
    bench.start_engine()
    bench.warm_to(40.0)
    bench.open_check(Spill(180.0))
    bench.wait(60.0)
    bench.shut()
    bench.wait(20.0)
    bench.lift()
    return bench


def test_a_repeat_that_nobody_announced_is_told_when_to_open() -> None:
    bench = unannounced()
    answer = answered(bench)
    first_s, again_s = times(answer, "open-plug")
    assert first_s < marked_s(bench, "level")[0] + 30.0
    assert bench.started_s["spill"] - 120.0 < again_s < bench.started_s["spill"] + 10.0


def test_a_repeat_that_nobody_announced_has_its_steps_and_its_verdict() -> None:
    answer = answered(unannounced())
    steps = [one["step"] for one in answer["steps"]]
    assert steps[steps.index("seal") :] == ["seal", "warm", "level", "seal", "done"]
    assert answer["level"]["verdict"] == "closed-in-window"


def test_a_plug_that_a_person_said_was_shut_stays_shut() -> None:
    bench = overrun()
    bench.cool_to(28.0)
    bench.start_engine()
    bench.warm_to(39.0)
    assert answered(bench)["steps"][-1]["step"] == "seal"


def test_a_fluid_that_only_cools_after_a_failed_attempt_is_no_repeat() -> None:
    bench = overrun()
    bench.cool_to(28.0)
    assert answered(bench)["steps"][-1]["step"] == "seal"
