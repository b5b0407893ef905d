"""The record at the end of the demo, beside the truth."""

import io
import json
from collections.abc import Callable
from typing import Any

import msgspec
import pytest
from rich.console import Console

from drainscale_sim.demo.ending import ending, what_went_wrong
from drainscale_sim.score.truth import Truth

Json = Callable[[dict[str, Any]], dict[str, Any]]


@pytest.fixture
def truth(truth_json: Json) -> Truth:
    return msgspec.json.decode(json.dumps(truth_json({})), type=Truth)


def shown(result: dict[str, Any], truth: Truth | None) -> list[str]:
    file = io.StringIO()
    Console(file=file, width=80, color_system=None).print(ending(result, truth))
    return [" ".join(line.split()) for line in file.getvalue().splitlines()]


def test_each_figure_stands_beside_its_truth(answer_json: Json, truth: Truth) -> None:
    lines = shown(answer_json({"drained.volume_L": 2.005, "net.volume_20C_L": 0.37}), truth)
    assert "drained 2.005 L ± 0.010 L 2.000 L within U" in lines
    assert "net, at 20 °C 0.370 L ± 0.003 L 0.360 L outside U" in lines
    assert "flow at close 60 mL/min 60 mL/min" in lines
    assert "verdict closed-in-window closed-in-window right" in lines


def test_without_a_truth_only_the_measured_figures_are_shown(answer_json: Json) -> None:
    lines = shown(answer_json({}), None)
    assert "drained 2.000 L ± 0.010 L" in lines
    assert "verdict closed-in-window" in lines
    assert not any("truth" in line or "within" in line for line in lines)


def test_what_could_not_be_measured_is_a_dash_and_not_within_U(
    answer_json: Json, truth: Truth
) -> None:
    lines = shown(answer_json({"net.volume_20C_L": None}), truth)
    assert "net, at 20 °C – ± 0.003 L 0.360 L –" in lines


def test_a_good_service_ended_as_it_should(answer_json: Json, truth: Truth) -> None:
    assert what_went_wrong(answer_json({}), "done", truth) == []


def test_a_wrong_verdict_did_not_end_as_it_should(answer_json: Json, truth: Truth) -> None:
    result = answer_json({"level.verdict": "overran"})
    assert what_went_wrong(result, "done", truth) == [
        "the verdict is overran, due is closed-in-window"
    ]
    assert what_went_wrong(result, "done", None) == []


def test_a_service_that_stopped_half_way_did_not_end_as_it_should(answer_json: Json) -> None:
    result = answer_json({"net.volume_20C_L": None, "level.verdict": "not-measured"})
    assert what_went_wrong(result, "warm", None) == [
        "the service ended in the step warm",
        "no net volume could be measured",
        "the level check could not be measured",
    ]
