"""A bench on a simulated board in front of a world that is set by hand."""

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.kit.agent.benches import bench_of

from drainscale.agent.bench_file import Bench
from drainscale.agent.command import open_devices
from drainscale.agent.devices import Devices
from drainscale_sim.board.hand_set_world import HandSetWorld
from drainscale_sim.board.simulated_board import BoardSettings, SimulatedBoard


@pytest.fixture
def world() -> HandSetWorld:
    return HandSetWorld(pan_C=21.5)


@pytest.fixture
def settings() -> BoardSettings:
    return BoardSettings()


@pytest.fixture
def board(world: HandSetWorld, settings: BoardSettings, tmp_path: Path) -> Iterator[SimulatedBoard]:
    folder = tmp_path / "board"
    folder.mkdir()
    board = SimulatedBoard(world, folder, settings)
    with board.installed():
        yield board


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return bench_of(tmp_path / "spool")


@pytest.fixture
def devices(bench: Bench, board: SimulatedBoard) -> Devices:
    return open_devices(bench, board.clock, board.paths)


@pytest.fixture
def stop() -> threading.Event:
    return threading.Event()
