"""The answer for people: litres, US quarts, and what was found on the way."""

from typing import Any

import pytest
from tests.kit.core.bench import JOB, Bench, Spill, answered, serve

from drainscale.core import Service
from drainscale.recording.records import Recording
from drainscale.replay.playback import PROGRESS_EVERY, play
from drainscale.replay.summary import VERDICTS, summary_lines


def lines_of(answer: dict[str, Any]) -> list[str]:
    return list(summary_lines(answer))


@pytest.fixture(scope="module")
def told() -> dict[str, Any]:
    return answered(serve(Bench()))


def test_every_main_figure_has_a_line_with_its_uncertainty(told: dict[str, Any]) -> None:
    lines = lines_of(told)
    for name in ("drained", "added", "spilled", "net"):
        line = next(line for line in lines if line.startswith(name))
        assert "±" in line
        assert "US qt" in line


def test_quarts_are_us_liquid_quarts(told: dict[str, Any]) -> None:
    """0.946352946 L each (NIST SP 811, table B.8)."""
    line = next(line for line in lines_of(told) if line.startswith("to refill"))
    litres = told["refill"]["target_volume_20C_L"]
    assert f"{litres / 0.946352946:.3f} US qt" in line


def test_what_was_not_measured_is_said_and_is_no_zero() -> None:
    lines = lines_of(Service(JOB).finish().to_dict())
    assert next(line for line in lines if line.startswith("drained")) == "drained    not measured"
    assert "level      not measured" in lines
    assert not any("0.000" in line for line in lines)


def test_each_stage_tells_when_it_flowed_and_dripped(told: dict[str, Any]) -> None:
    stages = [line for line in lines_of(told) if line.startswith("    drain")]
    assert len(stages) == 2
    assert "flowed from 0:14" in stages[0]


def test_a_finding_is_listed_with_its_time() -> None:
    answer = answered(serve(Bench(), spill=Spill(0.0)))
    assert any(line.endswith("no-spill") and ":" in line for line in lines_of(answer))


def test_every_verdict_has_words() -> None:
    assert set(VERDICTS) == {
        "closed-in-window", "overran", "no-spill", "not-reached", "not-measured",
    }  # fmt: skip


def test_no_line_is_wider_than_a_terminal(told: dict[str, Any]) -> None:
    assert max(map(len, lines_of(told))) <= 80


def test_playing_tells_how_far_it_is(told: dict[str, Any]) -> None:
    bench = serve(Bench())
    seen: list[int] = []
    result = play(Recording("urn:dev:ops:bench-7:", 0.0, bench.samples), JOB, seen.append)
    assert seen == list(range(PROGRESS_EVERY, len(bench.samples) + 1, PROGRESS_EVERY))
    assert result.to_dict()["drained"]["mass_kg"] == told["drained"]["mass_kg"]
