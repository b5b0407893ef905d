"""The measuring core on the test recordings, through the real command, against their truth.

The truth comes from a physical model that is independent of this project's own simulation (see
``tests/data/recordings/README.md``); the limits are this project's for a first version.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest

from drainscale_sim.score.command import main
from drainscale_sim.score.figures import FIRST, Figure
from drainscale_sim.score.replays import find_cases
from drainscale_sim.score.truth import read_truth

RECORDINGS = Path(__file__).parents[1] / "data/recordings"
NAMES = [case.name for case in find_cases(RECORDINGS)]


@pytest.fixture(scope="module")
def scored(tmp_path_factory: pytest.TempPathFactory) -> tuple[int, Path]:
    """Score all recordings once: the exit status, and the folder with what came out."""
    out = tmp_path_factory.mktemp("score")
    return main([str(RECORDINGS), "--out", str(out)]), out


@pytest.fixture(scope="module")
def summary(scored: tuple[int, Path]) -> dict[str, Any]:
    return msgspec.json.decode((scored[1] / "summary.json").read_bytes(), type=dict[str, Any])


@pytest.fixture(scope="module")
def answer_of(scored: tuple[int, Path]) -> Callable[[str], dict[str, Any]]:
    def read(name: str) -> dict[str, Any]:
        path = scored[1] / f"results/{name}.json"
        return msgspec.json.decode(path.read_bytes(), type=dict[str, Any])

    return read


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
