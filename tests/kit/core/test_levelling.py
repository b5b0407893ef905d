"""The level check: when to open, when to shut, and how it ended."""

from dataclasses import replace
from itertools import pairwise

import pytest
from tests.kit.core.bench import (
    JOB,
    Answer,
    Bench,
    Spill,
    WarmUp,
    answered,
    serve,
    times,
    warm_and_check,
    without_marks,
)


def heating(**setting: float) -> Bench:
    """A bench at which only the level is checked."""
    bench = Bench(warm_up=WarmUp(**setting))
    bench.mark("prepare")
    bench.wait(15.0)
    return bench


def checked(spill: Spill, open_K: float = 2.0, **setting: float) -> tuple[Bench, Answer]:
    bench = heating(**setting)
    warm_and_check(bench, spill, open_K)
    return bench, answered(bench)


def limit_s(bench: Bench, fluid_C: float) -> float:
    assert bench.engine_s is not None
    return bench.engine_s + bench.warm_up.reaches_s(fluid_C)


def test_an_ordinary_check_ends_in_the_window() -> None:
    _, answer = checked(Spill(180.0))
    assert answer["level"]["verdict"] == "closed-in-window"
    assert times(answer, "no-spill") == times(answer, "will-overrun") == []


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_open_comes_in_the_window_after_its_near_warning(seed: int) -> None:
    """Guard band (JCGM 106): with 95 % in the window, so 0 to 4 K above its lower limit."""
    bench = serve(Bench(seed=seed))
    answer = answered(bench)
    assert len(times(answer, "open-plug")) == 1
    opened_s = times(answer, "open-plug")[0]
    assert limit_s(bench, 35.0) < opened_s < limit_s(bench, 39.0)
    assert times(answer, "window-near")[0] < opened_s


def test_open_waits_for_the_guard_band() -> None:
    """JCGM 106: 95 % in the window is 1.645 u above its lower limit; U = 2 u."""
    answer = answered(serve(Bench()))
    opened_s = times(answer, "open-plug")[0]
    now = min(answer["forecasts"], key=lambda one: abs(one["t"] - opened_s))
    assert now["fluid_C"] - 1.645 * now["U_fluid_C"] / 2.0 == pytest.approx(35.0, abs=0.3)


def test_shut_comes_when_the_stream_is_thin() -> None:
    """Between 0.5 and 1.5 of the limit of 1 mL/s, by the made-up rim's own flow."""
    bench, answer = checked(Spill(180.0))
    sump = Spill(180.0)
    shut_s = times(answer, "close-plug")[0]
    for _ in range(round(100.0 * (shut_s - bench.started_s["spill"]))):
        sump.advance(0.01)
    assert 0.5 < sump.flow_mL_per_s < 1.5
    told = answer["level"]
    assert told["flow_at_close_mL_per_min"] == pytest.approx(60.0 * sump.flow_mL_per_s, rel=0.4)
    fluid_C = bench.warm_up.fluid_C(shut_s - (bench.engine_s or 0.0))
    assert abs(told["temperature_at_close_C"] - fluid_C) <= 1.5 * told["U_temperature_C"]


def test_what_spilled_is_weighed_until_the_plug_is_shut() -> None:
    bench, answer = checked(Spill(180.0))
    assert answer["spill"]["mass_kg"] == pytest.approx(bench.spilled_kg, abs=0.001)


def test_a_spill_that_goes_on_past_the_window_overran() -> None:
    """700 mL through a narrow pipe take longer than the window lasts."""
    bench = heating(tau_s=350.0)
    spill = Spill(700.0, pipe_mL_per_s=3.0)
    warm_and_check(bench, spill)
    answer = answered(bench)
    assert answer["level"]["verdict"] == "overran"
    assert len(times(answer, "will-overrun")) == 1
    assert times(answer, "will-overrun")[0] < limit_s(bench, 45.0) - 20.0
    assert times(answer, "window-closing")


def test_nothing_that_runs_is_told_and_judged() -> None:
    _, answer = checked(Spill(0.0))
    assert answer["level"]["verdict"] == "no-spill"
    assert len(times(answer, "no-spill")) == 1
    assert answer["level"]["flow_at_close_mL_per_min"] is None
    assert times(answer, "close-plug") == []


def test_what_stood_in_the_plug_is_no_spill() -> None:
    """6 mL in all: less than 10 mL is what stood there."""
    _, answer = checked(Spill(6.0, weir=0.5))
    assert answer["level"]["verdict"] == "no-spill"


def test_without_a_mark_nothing_that_runs_cannot_be_told() -> None:
    bench = heating()
    warm_and_check(bench, Spill(0.0))
    samples = without_marks(bench.samples)
    answer = answered(bench, samples)
    assert answer["level"]["verdict"] == "not-measured"
    assert times(answer, "no-spill") == []


def test_a_plug_shut_below_the_window_has_not_reached_it() -> None:
    bench = heating(tau_s=1500.0)
    warm_and_check(bench, Spill(120.0), open_K=-12.0)
    assert answered(bench)["level"]["verdict"] == "not-reached"


def test_a_stream_that_was_thin_below_the_window_closes_on_entering_it() -> None:
    bench, answer = checked(Spill(140.0), open_K=-2.0, tau_s=500.0)
    shut = times(answer, "close-plug")
    assert len(shut) == 1
    assert shut[0] == pytest.approx(limit_s(bench, 35.0), abs=25.0)


def test_an_unmarked_service_is_judged_like_a_marked_one() -> None:
    bench = serve(Bench())
    marked, plain = answered(bench), answered(bench, without_marks(bench.samples))
    assert plain["level"]["verdict"] == marked["level"]["verdict"] == "closed-in-window"
    assert times(plain, "close-plug")[0] == pytest.approx(times(marked, "close-plug")[0], abs=10.0)


def test_topping_up_begins_another_attempt_and_sums_go_on() -> None:
    """Nothing ran, half a litre goes in with the engine running, then it spills."""
    bench = heating(tau_s=1500.0)
    bench.start_engine()
    bench.mark("warm")
    bench.place(0.9)
    bench.wait(bench.warm_up.reaches_s(37.5) - 2.0)
    bench.mark("level")
    bench.wait(45.0)
    bench.lift()
    bench.mark("refill")
    bench.place(4.6)
    bench.wait(5.0)
    bench.pump(0.42, strokes=5)
    bench.wait(4.0)
    bench.lift()
    bench.place(0.9)
    bench.wait(8.0)
    bench.mark("level")
    bench.open_check(Spill(150.0))
    bench.wait(80.0)
    bench.mark("seal")
    bench.shut()
    bench.wait(5.0)
    answer = answered(bench)
    assert answer["level"]["verdict"] == "closed-in-window"
    assert len(times(answer, "no-spill")) == 1
    assert answer["refill"]["added_mass_kg"] == pytest.approx(0.42, abs=0.001)
    assert answer["spill"]["mass_kg"] == pytest.approx(bench.spilled_kg, abs=0.0015)


def test_forecasts_come_every_five_seconds_at_least_until_the_plug_is_shut() -> None:
    bench, answer = checked(Spill(180.0))
    seal_s = next(step["started_s"] for step in answer["steps"] if step["step"] == "seal")
    told = [one["t"] for one in answer["forecasts"] if one["t"] <= seal_s]
    assert bench.engine_s is not None
    assert told[0] < bench.engine_s + 90.0
    assert all(b - a <= 5.0 for a, b in pairwise([*told, seal_s]))


def test_the_forecast_interval_of_the_opening_holds_the_true_time() -> None:
    """90 % intervals, 60 s before: this bench's three warm-ups all lie within."""
    for tau_s in (500.0, 700.0, 1000.0):
        bench, answer = checked(Spill(180.0), tau_s=tau_s)
        due_s = limit_s(bench, 35.0)
        one = [f for f in answer["forecasts"] if f["t"] <= due_s - 60.0][-1]
        assert one["opens_90"][0] <= due_s <= one["opens_90"][1]
        assert one["opens_90"][1] - one["opens_90"][0] < 150.0


def test_a_fault_of_the_clamp_widens_u_and_after_two_minutes_withholds_the_value() -> None:
    bench = heating(tau_s=1500.0)
    bench.start_engine()
    bench.mark("warm")
    bench.wait(200.0)
    bench.pan_fault = True
    fault_s = bench.t
    bench.wait(160.0)
    bench.pan_fault = False
    bench.wait(30.0)
    answer = answered(bench)
    by_time = {f["t"]: f for f in answer["forecasts"]}
    during = [f for t, f in by_time.items() if fault_s + 10.0 < t < fault_s + 110.0]
    after = [f for t, f in by_time.items() if fault_s + 125.0 < t < fault_s + 155.0]
    assert during[0]["U_fluid_C"] < during[-1]["U_fluid_C"]
    assert [f["fluid_C"] for f in after] == [None] * len(after)
    assert times(answer, "sensor-fault") == pytest.approx([fault_s + 1.0], abs=1.0)
    assert times(answer, "sensor-restored") == pytest.approx([fault_s + 161.0], abs=1.1)


def test_a_window_as_wide_as_the_uncertainty_is_never_opened() -> None:
    """Guard bands of 1.645 u either side leave nothing of a window of 1 K (JCGM 106)."""
    bench = heating()
    bench.job = replace(JOB, procedure=replace(JOB.procedure, window_C=(38.0, 39.0)))
    warm_and_check(bench, Spill(180.0))
    assert times(answered(bench), "open-plug") == []
