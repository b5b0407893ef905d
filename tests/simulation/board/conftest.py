"""A simulated board in front of a world that is set by hand."""

from pathlib import Path

import pytest

from drainscale_sim.board.hand_set_world import HandSetWorld
from drainscale_sim.board.simulated_board import SimulatedBoard


@pytest.fixture
def world() -> HandSetWorld:
    return HandSetWorld()


@pytest.fixture
def board(world: HandSetWorld, tmp_path: Path) -> SimulatedBoard:
    return SimulatedBoard(world, tmp_path)
