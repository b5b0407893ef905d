import json
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

import msgspec
import pytest

from drainscale_sim.score.answer import Answer
from drainscale_sim.score.command import main
from drainscale_sim.score.flows import told_flow
from drainscale_sim.score.replays import find_cases
from drainscale_sim.score.truth import Truth, read_truth

pytest.importorskip("matplotlib")

Json = Callable[[dict[str, Any]], dict[str, Any]]
RECORDINGS = Path(__file__).parents[1] / "data/recordings"
PNG = b"\x89PNG\r\n\x1a\n"


def test_the_command_draws_pictures_on_request(
    small_folder: Path, answer_json: Json, tmp_path: Path
) -> None:
    results, out = tmp_path / "results", tmp_path / "out"
    results.mkdir()
    (results / "small.json").write_text(json.dumps(answer_json({})))
    options = ["--results", str(results), "--out", str(out), "--plots"]
    assert main([str(small_folder), *options]) == 0
    drawn = sorted(path.name for path in (out / "plots").glob("*.png"))
    assert drawn == [
        "close-flow.png", "error-against-U.png", "flow-small.png", "reliability-finish.png",
        "reliability-opens.png", "service-small.png",
    ]  # fmt: skip
    assert all((out / "plots" / name).read_bytes().startswith(PNG) for name in drawn)


def test_none_are_drawn_unasked(small_folder: Path, answer_json: Json, tmp_path: Path) -> None:
    results, out = tmp_path / "results", tmp_path / "out"
    results.mkdir()
    (results / "small.json").write_text(json.dumps(answer_json({})))
    main([str(small_folder), "--results", str(results), "--out", str(out)])
    assert not (out / "plots").exists()


def test_the_flow_that_is_drawn_is_the_one_that_ran() -> None:
    """Told each second from the readings up to then; drain and spill, within a tenth or so."""
    case = next(one for one in find_cases(RECORDINGS) if one.name == "check-plug")
    truth = read_truth(case.truth)
    told = told_flow(case)
    for from_s, until_s in (
        (truth.drained.stages[0].started_s + 10.0, truth.drained.stages[0].started_s + 60.0),
        (truth.times.plug_opened_s + 15.0, truth.times.plug_shut_s - 10.0),
    ):
        off = [
            abs(flow / true - 1.0)
            for t, flow in told
            if from_s < t < until_s and (true := truth.grid.flow_mL_per_min[int(t)])
        ]
        assert len(off) > 25
        assert median(off) < 0.12


class Told(Answer):
    """An answer with one forecast, in force always."""

    def __init__(self, opens_s: float, low_s: float, high_s: float, t: float) -> None:
        one = {"t": t, "opens_s": opens_s, "opens_90": [low_s, high_s]}
        super().__init__({"forecasts": [one]})


@pytest.mark.parametrize(
    ("opens_s", "low_s", "high_s", "level"),
    [
        (950.0, 900.0, 1000.0, 0.0),  # it opened when it was told to
        (1000.0, 950.0, 1100.0, 0.9),  # just at the 90 % interval's early end
        (900.0, 850.0, 950.0, 0.9),  # just at its late end
        (920.0, 860.0, 960.0, 0.782),  # 30 s late of 40: 2 Phi(1.645 * 0.75) - 1, normal table
    ],
)
def test_how_large_an_interval_had_to_be(
    opens_s: float, low_s: float, high_s: float, level: float, truth_json: Json
) -> None:
    from drainscale_sim.score.plots_reliability import _level_needed

    truth = msgspec.convert(truth_json({}), Truth)
    needed = _level_needed(Told(opens_s, low_s, high_s, 830.0), truth, 120)
    assert needed == pytest.approx(level, abs=0.001)
