import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from drainscale_sim.score.command import main
from drainscale_sim.score.figures import FIRST, REACH
from drainscale_sim.score.replays import find_cases
from drainscale_sim.score.truth import read_truth

Json = Callable[[dict[str, Any]], dict[str, Any]]


@pytest.fixture
def score(small_folder: Path, tmp_path: Path) -> Callable[..., int]:
    """Judge an answer that stands in the results folder already."""

    def run(answer: object, *options: str) -> int:
        results = tmp_path / "results"
        results.mkdir(exist_ok=True)
        text = answer if isinstance(answer, str) else json.dumps(answer)
        (results / "small.json").write_text(text)
        arguments = ["--results", str(results), "--out", str(tmp_path / "out"), *options]
        return main([str(small_folder), *arguments])

    return run


def test_a_sound_answer_gives_zero_and_a_summary(
    score: Callable[..., int], answer_json: Json, tmp_path: Path
) -> None:
    assert score(answer_json({})) == 0
    summary = json.loads((tmp_path / "out/summary.json").read_text())
    first = next(figure for figure in summary["figures"] if figure["key"] == "drained_mL.abs_error")
    assert (summary["recordings"], summary["failed"], summary["malformed"]) == (1, {}, {})
    assert (first["set"], first["value"], first["n"], first["must"]) == (
        "reach",
        0.0,
        1,
        [None, 5.0],
    )
    assert first["keeps_must"] is True


def test_the_table_shows_every_figure_with_its_limits(
    score: Callable[..., int],
    answer_json: Json,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("COLUMNS", "120")
    score(answer_json({"drained.volume_L": 2.020}), "--each")
    shown = capsys.readouterr().out
    assert all(figure.name in shown for figure in REACH + FIRST)
    line = next(line for line in shown.splitlines() if line.startswith("drained volume, median"))
    assert " ".join(line.split()) == "drained volume, median 20.0 mL 1 ≤ 5 SHORT ≤ 4 no"


def test_an_answer_that_lacks_a_field_gives_one(
    score: Callable[..., int], answer_json: Json, capsys: pytest.CaptureFixture[str]
) -> None:
    assert score(answer_json({"net": {"volume_20C_L": 0.36}})) == 1
    assert "MALFORMED small: net.U_volume_L: missing" in capsys.readouterr().out


@pytest.mark.parametrize("answer", ["", "{", '{"format": NaN}'])
def test_an_answer_that_is_no_json_gives_one(
    score: Callable[..., int], answer: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert score(answer) == 1
    assert "FAILED small: wrote no JSON" in capsys.readouterr().out


def test_a_short_figure_gives_one_only_when_it_is_held(
    score: Callable[..., int], answer_json: Json
) -> None:
    off = answer_json({"drained.volume_L": 2.020})
    assert score(off) == 0
    assert score(off, "--hold", "first") == 1
    assert score(answer_json({}), "--hold", "first") == 0


def test_silence_about_a_first_version_figure_is_short(
    score: Callable[..., int], answer_json: Json, events_json: Callable[..., list[Any]]
) -> None:
    assert score(answer_json({"events": events_json("open-plug")}), "--hold", "first") == 1


def test_a_replay_that_fails_gives_one_and_says_why(
    small_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The folder's job is empty, which ``drainscale replay`` refuses."""
    assert main([str(small_folder), "--out", str(tmp_path / "out")]) == 1
    assert "FAILED small: exit status" in capsys.readouterr().out


def test_a_folder_without_truth_gives_two(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([str(tmp_path), "--out", str(tmp_path / "out")]) == 2
    assert "no recording with a known truth" in capsys.readouterr().err


def test_a_truth_without_its_job_gives_two(
    small_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (small_folder / "small.job.toml").unlink()
    assert main([str(small_folder), "--out", str(small_folder / "out")]) == 2
    assert "small.job.toml: missing" in capsys.readouterr().err


def test_a_broken_truth_names_its_place(small_folder: Path, truth_json: Json) -> None:
    broken = truth_json({"drained.mass_kg": "heavy"})
    path = small_folder / "small.truth.json"
    path.write_text(json.dumps(broken))
    with pytest.raises(ValueError, match=r"small\.truth\.json: .*drained\.mass_kg"):
        read_truth(path)


def test_a_truth_under_another_name_is_refused(small_folder: Path) -> None:
    renamed = (small_folder / "small.truth.json").rename(small_folder / "other.truth.json")
    with pytest.raises(ValueError, match="is the truth of 'small'"):
        read_truth(renamed)


def test_every_test_recording_has_its_job_and_a_truth_that_reads() -> None:
    folder = Path(__file__).parents[1] / "data/recordings"
    truths = [read_truth(case.truth) for case in find_cases(folder)]
    assert len(truths) == 17
    assert {truth.outcome for truth in truths} == {"closed-in-window", "overran", "no-spill"}
    assert all(len(truth.grid.fluid_C) >= truth.duration_s for truth in truths)
