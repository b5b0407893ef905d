"""All test recordings, scored once for every test of this folder."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest

from drainscale_sim.score.command import main

RECORDINGS = Path(__file__).parents[1] / "data/recordings"


@pytest.fixture(scope="session")
def scored(tmp_path_factory: pytest.TempPathFactory) -> tuple[int, Path]:
    """Score all recordings once: the exit status, and the folder with what came out."""
    out = tmp_path_factory.mktemp("score")
    return main([str(RECORDINGS), "--out", str(out)]), out


@pytest.fixture(scope="session")
def summary(scored: tuple[int, Path]) -> dict[str, Any]:
    """Give the score's summary."""
    return msgspec.json.decode((scored[1] / "summary.json").read_bytes(), type=dict[str, Any])


@pytest.fixture(scope="session")
def answer_of(scored: tuple[int, Path]) -> Callable[[str], dict[str, Any]]:
    """Give the answer of one recording by name."""

    def read(name: str) -> dict[str, Any]:
        path = scored[1] / f"results/{name}.json"
        return msgspec.json.decode(path.read_bytes(), type=dict[str, Any])

    return read
