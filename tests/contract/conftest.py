"""A simulated board in front of a world that is set by hand."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from drainscale_sim.board.hand_set_world import HandSetWorld
from drainscale_sim.board.simulated_board import BoardSettings, SimulatedBoard


@pytest.fixture
def world() -> HandSetWorld:
    return HandSetWorld()


@pytest.fixture
def settings() -> BoardSettings:
    return BoardSettings()


@pytest.fixture
def board(world: HandSetWorld, settings: BoardSettings, tmp_path: Path) -> Iterator[SimulatedBoard]:
    board = SimulatedBoard(world, tmp_path, settings)
    with board.installed():
        yield board
