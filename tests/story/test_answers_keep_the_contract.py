"""What every answer has to be, whatever the service was: order, ranges, rules of the events."""

from collections import Counter
from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import Any

import pytest
from tests.story.conftest import RECORDINGS

from drainscale.quantities.samples import STEP_NAMES
from drainscale_sim.score.replays import find_cases
from drainscale_sim.score.truth import read_truth

NAMES = [case.name for case in find_cases(RECORDINGS)]
ONCE_AN_ATTEMPT = (
    "window-near", "open-plug", "close-plug", "no-spill", "will-overrun", "window-closing",
)  # fmt: skip
TIMES = ("t", "started_s", "dripped_s", "opens_s", "closes_s", "finishes_s")
SPILL = ("flow-started", "level")
AnswerOf = Callable[[str], dict[str, Any]]
each = pytest.mark.parametrize("name", NAMES)


def started(answer: dict[str, Any], step: str) -> list[float]:
    return [one["started_s"] for one in answer["steps"] if one["step"] == step]


def told(answer: dict[str, Any], event: str) -> list[float]:
    return [one["t"] for one in answer["events"] if one["event"] == event]


def numbers(part: Any, key: str = "") -> Iterator[tuple[str, float]]:
    """Every number of an answer with the key that it stands under."""
    if isinstance(part, dict):
        for name, value in part.items():
            yield from numbers(value, name)
    elif isinstance(part, list):
        for value in part:
            yield from numbers(value, key)
    elif isinstance(part, float):
        yield key, part


@each
def test_times_are_told_to_the_millisecond(name: str, answer_of: AnswerOf) -> None:
    told_times = [v for k, v in numbers(answer_of(name)) if k in (*TIMES, "opens_90", "closes_90")]
    assert len(told_times) > 300
    assert all(abs(value - round(value, 3)) < 1e-9 for value in told_times)


@each
def test_every_event_stands_in_the_step_of_its_time_or_in_one_that_the_scale_dated_later(
    name: str, answer_of: AnswerOf
) -> None:
    """A boundary may be dated back, never by more than a minute."""
    answer = answer_of(name)
    for event in answer["events"]:
        begun = [s["step"] for s in answer["steps"] if s["started_s"] <= event["t"] + 60.0]
        assert event["step"] in begun, event


@each
def test_steps_are_those_of_a_service_in_their_order(name: str, answer_of: AnswerOf) -> None:
    """None of these services repeats a step."""
    steps = [one["step"] for one in answer_of(name)["steps"]]
    assert steps == sorted(steps, key=STEP_NAMES.index)
    assert max(Counter(steps).values()) == 1
    assert steps[0] == "prepare"


@each
def test_cues_of_the_level_check_come_once_an_attempt(name: str, answer_of: AnswerOf) -> None:
    answer = answer_of(name)
    assert all(len(told(answer, event)) <= 1 for event in ONCE_AN_ATTEMPT)
    assert len(told(answer, "refill-reached")) <= 1
    assert not (told(answer, "close-plug") and told(answer, "no-spill"))


@each
def test_what_is_placed_is_lifted_before_the_next_is_placed(name: str, answer_of: AnswerOf) -> None:
    loads = [e["event"] for e in answer_of(name)["events"] if e["event"] in ("placed", "lifted")]
    assert len(loads) >= 4
    assert all(a != b for a, b in pairwise(loads))


@each
def test_forecasts_come_every_five_seconds_from_the_rise_until_the_plug_is_shut(
    name: str, answer_of: AnswerOf
) -> None:
    answer = answer_of(name)
    (warm_s,), (seal_s,) = started(answer, "warm"), started(answer, "seal")
    due = [one["t"] for one in answer["forecasts"] if one["t"] <= seal_s]
    assert due[0] < warm_s + 120.0
    assert all(b - a <= 5.0 for a, b in pairwise([*due, seal_s]))


@each
def test_forecasts_are_in_order_and_their_probabilities_between_0_and_1(
    name: str, answer_of: AnswerOf
) -> None:
    for one in answer_of(name)["forecasts"]:
        p = one["p_finish_in_window"]
        assert p is None or 0.0 <= p <= 1.0
        if one["opens_s"] is not None and one["closes_s"] is not None:
            assert one["opens_s"] <= one["closes_s"]
        for limit in ("opens", "closes"):
            low_high, best = one[f"{limit}_90"], one[f"{limit}_s"]
            if low_high is not None:
                assert best is not None
                assert low_high[0] <= best <= low_high[1], one


@each
def test_the_end_of_a_spill_is_foreseen_only_once_it_runs(name: str, answer_of: AnswerOf) -> None:
    answer = answer_of(name)
    spilling = [e["t"] for e in answer["events"] if (e["event"], e["step"]) == SPILL]
    first_s = spilling[0] if spilling else float("inf")
    for one in answer["forecasts"]:
        if one["t"] < first_s:
            assert (one["finishes_s"], one["p_finish_in_window"]) == (None, None)


@each
def test_the_figures_of_the_closing_are_there_exactly_with_its_event(
    name: str, answer_of: AnswerOf
) -> None:
    answer = answer_of(name)
    level = dict(answer["level"])
    verdict = level.pop("verdict")
    assert all((value is None) == (not told(answer, "close-plug")) for value in level.values())
    assert (verdict == "no-spill") == bool(told(answer, "no-spill"))


@each
def test_a_drip_is_told_once_a_stage_and_dated_within_it(name: str, answer_of: AnswerOf) -> None:
    answer = answer_of(name)
    stages = answer["drained"]["stages"]
    ends = [*(stage["started_s"] for stage in stages[1:]), started(answer, "refill")[0]]
    dated = [(s, end) for s, end in zip(stages, ends, strict=True) if s["dripped_s"] is not None]
    assert len(dated) == len(told(answer, "dripped"))
    assert all(stage["started_s"] < stage["dripped_s"] <= end for stage, end in dated)


def test_the_drip_of_a_stage_is_not_dated_after_its_end(answer_of: AnswerOf) -> None:
    first, second = answer_of("no-spill")["drained"]["stages"]
    assert first["dripped_s"] <= second["started_s"]


@each
def test_the_shares_of_a_budget_add_up(name: str, answer_of: AnswerOf) -> None:
    """GUM (JCGM 100:2008), 5.1.2: independent parts add up in quadrature, U with k = 2."""
    answer = answer_of(name)
    for part in ("drained", "refill", "net"):
        budget, U_L = answer[part]["budget"], answer[part]["U_volume_L"]
        combined_L = sum(one["u_L"] ** 2 for one in budget) ** 0.5
        assert 2.0 * combined_L == pytest.approx(U_L, rel=0.01, abs=2e-5)
        assert sum(one["share"] for one in budget) == pytest.approx(1.0, abs=0.01)


@each
def test_the_added_mass_is_within_three_standard_uncertainties(
    name: str, answer_of: AnswerOf
) -> None:
    answer, truth = answer_of(name), read_truth(RECORDINGS / f"{name}.truth.json")
    refill = answer["refill"]
    assert abs(refill["added_mass_kg"] - truth.refill.added_mass_kg) < 0.005
    assert 0.0 < refill["U_volume_L"] < 0.02 * refill["added_volume_20C_L"]
