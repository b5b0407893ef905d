"""The measuring core on the test recordings, through the real command, against their truth.

The truth comes from a physical model that is independent of this project's own simulation (see
``tests/data/recordings/README.md``); the limits are this project's for a first version.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tests.story.conftest import RECORDINGS

from drainscale_sim.score.figures import FIRST, Figure
from drainscale_sim.score.replays import find_cases
from drainscale_sim.score.truth import read_truth

NAMES = [case.name for case in find_cases(RECORDINGS)]

# of the figures to reach, those that these seventeen hold with something to spare
REACHED = (
    "drained volume, median", "stage mass, median", "stage mass, p90", "added mass, median",
    "added mass, p90", "net, median", "net, p90", "drained: U covers truth",
    "added: U covers truth", "net: U covers truth", "spill: U covers truth",
    "fluid: U covers truth", "net: mean U", "spill: mean U", "drip time, median",
    "drip time, p90", "opens in 240 s, median", "opens in 240 s, p90", "opens in 240 s: holds",
    "opens in 240 s: width", "opens in 120 s, median", "opens in 120 s, p90",
    "opens in 120 s: holds", "opens in 120 s: width", "opens in 60 s, p90",
    "opens in 60 s: holds", "opens in 60 s: width", "fluid, median", "fluid: mean U",
    "close-plug: of limit, p5", "close-plug: delay, median", "no-spill: found, marked",
    "no-spill: false", "no-spill: delay, median", "container-full: found",
    "verdict: right, clear", "scale faults: found", "pan faults: found", "faults: false alarms",
    "placed: found", "lifted: found", "disturbed: found", "placed: stray", "lifted: stray",
)  # fmt: skip


def test_every_recording_gives_an_answer_of_the_right_form(
    scored: tuple[int, Path], summary: dict[str, Any]
) -> None:
    assert summary["recordings"] == len(NAMES) == 17
    assert (summary["failed"], summary["malformed"]) == ({}, {})
    assert scored[0] == 0


@pytest.mark.parametrize("figure", FIRST, ids=lambda figure: figure.name)
def test_a_first_version_holds(figure: Figure, summary: dict[str, Any]) -> None:
    told = next(
        row
        for row in summary["figures"]
        if row["set"] == "first version" and row["name"] == figure.name
    )
    assert told["n"] >= 10
    assert told["keeps_must"] is True, f"{told['value']} {figure.unit}, must be {figure.must}"


@pytest.mark.parametrize("name", REACHED)
def test_a_figure_to_reach_is_kept(name: str, summary: dict[str, Any]) -> None:
    told = next(row for row in summary["figures"] if row["set"] == "reach" and row["name"] == name)
    assert told["n"] > 0
    assert told["keeps_must"] is True, f"{told['value']} {told['unit']}, must be {told['must']}"


@pytest.mark.parametrize("name", NAMES)
def test_a_sound_drained_volume_is_told_with_its_budget(
    name: str, answer_of: Callable[[str], dict[str, Any]]
) -> None:
    """None is off by more than three standard uncertainties; U stays below 2 % of the volume."""
    drained = answer_of(name)["drained"]
    truth = read_truth(RECORDINGS / f"{name}.truth.json").drained
    assert abs(drained["volume_L"] - truth.volume_L) <= 1.5 * drained["U_volume_L"]
    assert 0.0 < drained["U_volume_L"] < 0.02 * truth.volume_L


@pytest.mark.parametrize("name", NAMES)
def test_net_is_added_minus_spilled_minus_drained(
    name: str, answer_of: Callable[[str], dict[str, Any]]
) -> None:
    """Within what the spill's own expansion to 20 °C makes: 0.0007 a kelvin, 50 K at most."""
    answer = answer_of(name)
    spilled_L = answer["spill"]["volume_L"]
    plain_L = answer["refill"]["added_volume_20C_L"] - spilled_L - answer["drained"]["volume_20C_L"]
    assert answer["net"]["volume_20C_L"] == pytest.approx(plain_L, abs=0.001 + 0.035 * spilled_L)
