from collections.abc import Callable
from typing import Any

import pytest

from drainscale_sim.score.answer import Answer
from drainscale_sim.score.contract import complaints
from drainscale_sim.score.matching import joined, nearest, outside
from drainscale_sim.score.truth import interpolate

Json = Callable[[dict[str, Any]], dict[str, Any]]


def test_a_sound_answer_has_no_complaint(answer_json: Json) -> None:
    assert complaints(answer_json({})) == []


def test_a_further_key_is_allowed(answer_json: Json) -> None:
    assert complaints(answer_json({"gaps": [], "net.note": "x"})) == []


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({"format": 2}, "format: 2 is not 1"),
        ({"net": None}, "net: no object"),
        ({"drained": {}}, "drained.mass_kg: missing"),
        ({"spill.mass_kg": "0.2"}, "spill.mass_kg: '0.2' is neither a number nor null"),
        ({"spill.mass_kg": True}, "spill.mass_kg: True is neither a number nor null"),
        ({"level.verdict": "good"}, "level.verdict: 'good' is not a verdict"),
        ({"drained.stages": None}, "drained.stages: no list"),
        ({"steps": [{"step": "rest", "started_s": 1.0}]}, "steps[0].step: 'rest' is not a step"),
        ({"events": [{"t": 1.0, "event": "placed"}]}, "events[0].step: missing"),
        (
            {"events": [{"t": None, "event": "placed", "step": "drain"}]},
            "events[0].t: no time",
        ),
        (
            {"events": [{"t": 1.00049, "event": "placed", "step": "drain"}]},
            "events[0].t: 1.00049 s is not told to 1 ms",
        ),
        (
            {"events": [{"t": 1.0, "event": "bumped", "step": "drain"}]},
            "events[0].event: 'bumped' is not an event",
        ),
        (
            {"events": [{"t": 1.0, "event": "sensor-fault", "step": "drain"}]},
            "events[0].sensor: None is not a sensor",
        ),
        ({"forecasts": [3]}, "forecasts[0]: no object"),
        ({"forecasts": [{"t": 1.0}]}, "forecasts[0].opens_90: missing"),
    ],
)
def test_each_fault_of_form_is_named(
    answer_json: Json, change: dict[str, Any], complaint: str
) -> None:
    assert complaint in complaints(answer_json(change))


def test_events_out_of_order_are_named(answer_json: Json) -> None:
    events = [{"t": t, "event": "placed", "step": "drain"} for t in (2.0, 1.0)]
    assert complaints(answer_json({"events": events})) == ["events[1].t: 1.0 s comes after 2.0 s"]


@pytest.mark.parametrize("interval", [[None, None], [2.0, 1.0], [1.0], "1..2"])
def test_an_interval_is_null_or_two_rising_numbers(answer_json: Json, interval: object) -> None:
    answer = answer_json({})
    answer["forecasts"][0]["opens_90"] = interval
    assert [line.split(":")[0] for line in complaints(answer)] == ["forecasts[0].opens_90"]


@pytest.mark.parametrize("answer", [None, [], "text", 3])
def test_what_is_no_object_is_one_complaint(answer: object) -> None:
    assert complaints(answer) == ["is not a JSON object"]


def test_an_answer_reads_whatever_stands_in_it() -> None:
    answer = Answer({"drained": [], "events": [None, {"t": "x"}, {"t": 2}], "forecasts": 7})
    assert answer.number("drained", "mass_kg") is None
    assert answer.stage("drain") == {}
    assert [seen.t for seen in answer.events] == [2.0]
    assert answer.forecast_at(5.0) is None


def test_an_event_is_matched_to_the_nearest_time_within_reach() -> None:
    assert nearest([1.0, 9.0, 30.0], 12.0, 5.0) == 9.0
    assert nearest([1.0, 30.0], 12.0, 5.0) is None
    assert nearest([], 12.0, 5.0) is None


def test_stretches_less_than_a_gap_apart_are_one() -> None:
    assert joined([(5.0, 6.0), (0.0, 3.5), (1.0, 2.0)], 2.0) == [(0.0, 6.0)]
    assert joined([(0.0, 3.0), (5.0, 6.0)], 2.0) == [(0.0, 3.0), (5.0, 6.0)]


def test_times_outside_all_stretches_are_counted() -> None:
    assert outside([1.0, 2.0, 7.0], [(0.0, 1.0), (6.0, 8.0)]) == 1


def test_the_grid_is_read_between_its_points_and_held_at_its_ends() -> None:
    assert interpolate([10.0, 20.0], 0.25, 1.0) == 12.5
    assert interpolate([10.0, 20.0], -5.0, 1.0) == 10.0
    assert interpolate([10.0, 20.0], 9.0, 1.0) == 20.0


def test_a_hole_in_the_grid_takes_its_neighbour() -> None:
    assert interpolate([None, 20.0, None], 0.5, 1.0) == 20.0
    assert interpolate([None, 20.0, None], 1.5, 1.0) == 20.0
    assert interpolate([None, None], 0.5, 1.0) != interpolate([None, None], 0.5, 1.0)  # NaN
