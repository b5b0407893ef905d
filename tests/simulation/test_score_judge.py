"""Hand-worked comparisons: each test moves one thing and says what the tally must be.

The small truth: drained 2 L, spill falling by 1 mL/min each second, 60 mL/min (the limit) at
1140 s; fluid at 35 °C at 950 s and at 45 °C at 1250 s, 2 K a minute.
"""

from collections.abc import Callable
from typing import Any

import pytest

from drainscale_sim.score.tally import Tally

Judged = Callable[..., Tally]
Events = Callable[..., list[dict[str, Any]]]


def shares(tally: Tally) -> dict[str, float | None]:
    return {name: tally.share(name) for name in tally.counts()}


def test_a_perfect_answer_has_no_error_and_every_find(judged: Judged) -> None:
    tally = judged()
    found = shares(tally)
    assert tally.values["drained_mL.abs_error"] == [0.0]
    assert tally.values["close_plug.flow_to_limit"] == [1.0]
    assert {name: s for name, s in found.items() if name.endswith((".missed", ".missing"))} == {
        "flow_started.missed": 0.0,
        "drip.missed": 0.0,
        "dripped.missed": 0.0,
        "refill_reached.missed": 0.0,
        "opens_240.missing": 0.0,
        "opens_120.missing": 0.0,
        "opens_60.missing": 0.0,
        "closes_120.missing": 0.0,
        "finishes_60.missing": 0.0,
        "finishes_30.missing": 0.0,
        "p_finish.missing": 0.0,
        "open_plug.missed": 0.0,
        "window_near.missed": 0.0,
        "close_plug.missed": 0.0,
    }
    assert found["forecast.slot_missing"] == found["fluid_K.null"] == 0.0
    assert found["verdict.clear_right"] == found["placed.found"] == found["lifted.found"] == 1.0


def test_an_error_within_its_own_U_is_covered_and_told_in_mL(judged: Judged) -> None:
    tally = judged({"drained.volume_L": 2.008})
    assert tally.values["drained_mL.error"] == [pytest.approx(8.0)]
    assert tally.share("drained_mL.within_U") == 1.0


def test_an_error_beyond_its_own_U_is_not_covered(judged: Judged) -> None:
    assert judged({"drained.volume_L": 1.989}).share("drained_mL.within_U") == 0.0


def test_a_value_without_U_is_not_covered(judged: Judged) -> None:
    assert judged({"net.U_volume_L": None}).share("net_mL.within_U") == 0.0


def test_a_value_that_is_null_is_counted_and_not_an_error(judged: Judged) -> None:
    tally = judged({"refill.added_mass_kg": None})
    assert tally.share("added_g.null") == 1.0
    assert "added_g.abs_error" not in tally.values


def test_a_spill_that_never_was_is_not_compared(judged: Judged) -> None:
    tally = judged(truth={"outcome": "no-spill", "times.spill_below_close_limit_s": None})
    assert "spill_mL.abs_error" not in tally.values


def test_a_stage_that_never_dripped_has_no_drip_time_to_miss(judged: Judged) -> None:
    stage = {"step": "drain", "mass_kg": 1.7, "started_s": 50.0, "ended_s": 300.0}
    tally = judged(truth={"drained.stages": [{**stage, "dripped_s": None}]})
    assert tally.cases("drip.missed") == 0
    assert tally.share("drip.false") == 1.0  # the answer still says 250 s


def test_refill_reached_three_seconds_late_is_not_in_time(
    judged: Judged, events_json: Events
) -> None:
    tally = judged({"events": events_json("refill-reached", 448.0)})
    assert tally.values["refill_reached.delay_s"] == [3.0]
    assert tally.share("refill_reached.in_time") == 0.0


def test_refill_reached_is_false_where_the_target_was_not_met(judged: Judged) -> None:
    tally = judged(truth={"refill.added_volume_20C_L": 2.4, "refill.reached_s": None})
    assert tally.share("refill_reached.false") == 1.0


def test_the_forecast_in_force_is_the_last_one_before(judged: Judged) -> None:
    tally = judged()
    assert tally.values["opens_120.abs_error_s"] == [0.0]
    assert tally.values["opens_120.width_s"] == [50.0]
    assert tally.share("opens_120.holds") == 1.0


def test_an_interval_that_ends_before_the_truth_does_not_hold(judged: Judged) -> None:
    tally = judged(truth={"times.window_opens_s": 985.0})
    assert tally.values["opens_60.error_s"] == [-35.0]
    assert tally.share("opens_60.holds") == 0.0


def test_a_forecast_older_than_ten_seconds_is_missing(judged: Judged, answer_json: Any) -> None:
    kept = [f for f in answer_json({})["forecasts"] if not 815 <= f["t"] <= 830]
    tally = judged({"forecasts": kept})
    assert tally.share("opens_120.missing") == 1.0  # 830 s, the last is from 810 s


def test_a_limit_whose_forecast_falls_before_the_warm_up_is_not_judged(judged: Judged) -> None:
    tally = judged(truth={"steps.warm": 700.0})  # judged from 715 s, 240 s before is 710 s
    assert tally.cases("opens_240.missing") == 0
    assert tally.cases("opens_120.missing") == 1


# Brier, Monthly Weather Review 78 (1950) 1: squared difference of probability and outcome.
def test_the_finish_probability_is_scored_by_its_squared_difference(judged: Judged) -> None:
    assert judged().values["p_finish.brier"] == [pytest.approx(0.01)]


def test_fluid_is_compared_from_the_warm_up_until_the_plug_is_shut(judged: Judged) -> None:
    tally = judged()
    assert tally.cases("fluid_K.abs_error") == 132  # 525 s to 1180 s, every 5 s
    assert max(tally.values["fluid_K.abs_error"]) == 0.0


def test_open_plug_below_the_window_is_outside_it(judged: Judged, events_json: Events) -> None:
    tally = judged({"events": events_json("open-plug", 920.0)})
    assert tally.values["open_plug.above_lower_K"] == [pytest.approx(-1.0)]
    assert tally.values["open_plug.outside_by_K"] == [pytest.approx(1.0)]
    assert tally.share("open_plug.below_lower") == 1.0


def test_open_plug_above_the_window_is_outside_it_too(judged: Judged, events_json: Events) -> None:
    tally = judged({"events": events_json("open-plug", 1280.0)})
    assert tally.values["open_plug.outside_by_K"] == [pytest.approx(1.0)]
    assert tally.share("open_plug.below_lower") == 0.0


def test_a_hot_window_is_judged_by_its_own_limit(judged: Judged) -> None:
    tally = judged(truth={"limits.window_C": [60.0, 70.0]})
    assert "open_plug.above_lower_K.usual" not in tally.values
    assert tally.cases("open_plug.above_lower_K.hot") == 1


def test_window_near_is_due_when_the_first_of_both_rules_says(judged: Judged) -> None:
    """32 °C at 860 s and 90 s before 950 s: both at 860 s; at 5 K it is 30 °C at 800 s."""
    assert judged().values["window_near.delay_s"] == [0.0]
    assert judged(truth={"limits.approach_K": 5.0}).values["window_near.delay_s"] == [60.0]


def test_close_plug_thirty_seconds_early_sees_half_as_much_again(
    judged: Judged, events_json: Events
) -> None:
    tally = judged({"events": events_json("close-plug", 1109.0)})
    assert tally.values["close_plug.flow_to_limit"] == [pytest.approx(91 / 60)]
    assert tally.values["close_plug.delay_s"] == [-31.0]
    assert tally.share("close_plug.near_limit") == 0.0
    assert tally.share("close_plug.about_right") == 0.0


def test_a_late_close_plug_is_judged_by_the_flow_before_the_plug_was_shut(
    judged: Judged, events_json: Events
) -> None:
    tally = judged({"events": events_json("close-plug", 1300.0)})
    assert tally.values["close_plug.flow_to_limit"] == [pytest.approx(21 / 60)]
    assert tally.share("close_plug.after_shut") == 1.0


def test_a_close_plug_that_never_came_is_missed(judged: Judged, events_json: Events) -> None:
    tally = judged({"events": events_json("close-plug")})
    assert tally.share("close_plug.missed") == 1.0
    assert tally.share("close_plug.about_right") == 0.0


def test_a_spill_thin_just_above_the_lower_limit_may_wait(judged: Judged) -> None:
    tally = judged(truth={"times.spill_below_close_limit_s": 990.0})  # 36.3 °C
    assert tally.cases("close_plug.missed") == 0
    assert tally.cases("close_plug.near_lower") == 1


def test_the_figures_at_the_close_belong_to_the_last_one(
    judged: Judged, events_json: Events
) -> None:
    tally = judged({"events": events_json("close-plug", 1100.0, 1140.0)})
    assert tally.values["level.flow_relative_error"] == [pytest.approx(0.0)]


OVERRUN = {"times.window_closes_s": 1100.0, "outcome": "overran"}


def test_will_overrun_told_in_time_is_found_with_its_lead(
    judged: Judged, events_json: Events
) -> None:
    tally = judged({"events": events_json("will-overrun", 1040.0)}, OVERRUN)
    assert tally.share("will_overrun.clear_found") == 1.0
    assert tally.values["will_overrun.lead_s"] == [60.0]


def test_will_overrun_told_after_the_window_is_not_found(
    judged: Judged, events_json: Events
) -> None:
    tally = judged({"events": events_json("will-overrun", 1101.0)}, OVERRUN)
    assert tally.share("will_overrun.clear_found") == 0.0


def test_will_overrun_where_nothing_overran_is_false(judged: Judged, events_json: Events) -> None:
    tally = judged({"events": events_json("will-overrun", 1040.0)})
    assert tally.share("will_overrun.clear_false") == 1.0


def test_window_closing_never_told_is_not_in_time(judged: Judged) -> None:
    assert judged(truth=OVERRUN).share("window_closing.in_time") == 0.0


def test_window_closing_after_the_upper_limit_is_not_in_time(
    judged: Judged, events_json: Events
) -> None:
    hot = {**OVERRUN, "limits.window_C": [35.0, 40.0]}  # 40 °C at 1100 s
    tally = judged({"events": events_json("window-closing", 1090.0)}, hot)
    assert tally.share("window_closing.in_time") == 1.0
    tally = judged({"events": events_json("window-closing", 1110.0)}, hot)
    assert tally.share("window_closing.in_time") == 0.0


NOTHING_RUNS = {"outcome": "no-spill", "times.spill_below_close_limit_s": None}


def test_no_spill_is_found_with_its_delay(judged: Judged, events_json: Events) -> None:
    tally = judged({"events": events_json("no-spill", 1025.0)}, NOTHING_RUNS)
    assert tally.share("no_spill.marked_found") == 1.0
    assert tally.values["no_spill.delay_s"] == [25.0]


def test_without_a_level_mark_the_verdict_due_is_not_measured(judged: Judged) -> None:
    unseen: dict[str, Any] = {**NOTHING_RUNS, "marks": []}
    assert judged({"level.verdict": "not-measured"}, unseen).share("verdict.clear_right") == 1.0
    assert judged({"level.verdict": "no-spill"}, unseen).share("verdict.clear_right") == 0.0


def test_a_verdict_near_the_border_is_counted_apart(judged: Judged) -> None:
    tally = judged(truth={"times.window_closes_s": 1155.0})
    assert tally.cases("verdict.clear_right") == 0
    assert tally.share("verdict.border_right") == 1.0


FAULTY = {
    "faults": [
        {"sensor": "pan", "kind": "open", "start_s": 600.0, "end_s": 610.0},
        {"sensor": "pan", "kind": "open", "start_s": 611.0, "end_s": 620.0},
        {"sensor": "scale", "kind": "stuck", "start_s": 700.0, "end_s": 704.0},
    ]
}


def test_faults_close_together_are_one_and_short_ones_need_not_be_found(
    judged: Judged, events_json: Events
) -> None:
    told = events_json("sensor-fault", 600.5, sensor="pan")
    tally = judged({"events": told}, FAULTY)
    assert tally.counts()["fault.pan.found"] == (1, 1)
    assert "fault.scale.found" not in tally.counts()
    assert tally.share("fault.false_alarms") == 0.0
    assert tally.share("fault.restored") == 0.0


def test_a_fault_of_the_wrong_sensor_is_a_false_alarm(judged: Judged, events_json: Events) -> None:
    tally = judged({"events": events_json("sensor-fault", 600.5, sensor="scale")}, FAULTY)
    assert tally.share("fault.pan.found") == 0.0
    assert tally.share("fault.false_alarms") == 1.0


SHAKEN = {"disturbances": [[600.0, 601.0, "knock", True], [700.0, 701.0, "knock", False]]}


def test_only_a_knock_that_shows_has_to_be_found(judged: Judged, events_json: Events) -> None:
    tally = judged({"events": events_json("disturbed", 601.5)}, SHAKEN)
    assert tally.counts()["disturbed.found"] == (1, 1)
    assert tally.share("disturbed.stray") == 0.0


def test_a_knock_that_nothing_caused_is_stray(judged: Judged, events_json: Events) -> None:
    tally = judged({"events": events_json("disturbed", 650.0)}, SHAKEN)
    assert tally.share("disturbed.found") == 0.0
    assert tally.share("disturbed.stray") == 1.0


def test_placed_six_seconds_off_is_not_found(judged: Judged, events_json: Events) -> None:
    assert judged({"events": events_json("placed", 35.9)}).share("placed.found") == 1.0
    assert judged({"events": events_json("placed", 36.0)}).share("placed.found") == 0.0


def test_a_flow_outside_every_run_is_stray(judged: Judged, events_json: Events) -> None:
    tally = judged({"events": events_json("flow-started", 50.0, 650.0)})
    assert tally.share("flow_started.stray") == 1.0


def test_a_full_container_is_found_with_its_delay(judged: Judged, events_json: Events) -> None:
    full = {"times.container_full_s": 200.0}
    assert judged(truth=full).share("container_full.found") == 0.0
    tally = judged({"events": events_json("container-full", 203.0)}, full)
    assert tally.share("container_full.found") == 1.0
    assert tally.values["container_full.delay_s"] == [3.0]


def test_a_container_full_that_was_not_is_false(judged: Judged, events_json: Events) -> None:
    tally = judged({"events": events_json("container-full", 203.0)})
    assert tally.share("container_full.false") == 1.0


def test_a_close_plug_where_the_spill_never_was_thick_is_not_due(judged: Judged) -> None:
    assert judged(truth=NOTHING_RUNS).share("close_plug.not_due") == 1.0


def test_a_spill_thin_only_after_the_recording_is_not_judged(judged: Judged) -> None:
    unseen = {"times.spill_below_close_in_recording": False}
    assert judged(truth=unseen).cases("close_plug.missed") == 0


def test_window_closing_long_before_the_limit_is_false(judged: Judged, events_json: Events) -> None:
    early = {"times.plug_shut_s": 1100.0, "limits.window_C": [35.0, 45.0]}  # shut at 40 °C
    tally = judged({"events": events_json("window-closing", 1050.0)}, early)
    assert tally.share("window_closing.false") == 1.0


def test_a_forecast_without_fluid_or_interval_is_counted(judged: Judged, answer_json: Any) -> None:
    forecasts = answer_json({})["forecasts"]
    blind = [{**f, "fluid_C": None, "opens_90": None} for f in forecasts]
    tally = judged({"forecasts": blind})
    assert tally.share("fluid_K.null") == 1.0
    assert tally.share("opens_120.holds") == 0.0
    assert "opens_120.width_s" not in tally.values
