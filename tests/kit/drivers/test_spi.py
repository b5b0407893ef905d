"""The SPI way on a bad wire, a bad bus and a board without rights."""

import sys
from collections.abc import Iterator
from random import Random
from typing import Any, NoReturn

import pytest

from drainscale.drivers.hx711_spi import SpiLoadCell
from drainscale.errors import SensorError, SensorMissingError
from drainscale.pins import pins
from drainscale_sim.board.hand_set_world import HandSetWorld, sequence_of
from drainscale_sim.board.simulated_board import BoardSettings, SimulatedBoard


@pytest.fixture
def settings() -> BoardSettings:
    return BoardSettings(drain_rate_Hz=80.0)


@pytest.fixture
def cell(board: SimulatedBoard) -> Iterator[SpiLoadCell]:
    opened = SpiLoadCell("drain", pins().scale.drain, board.clock, board.paths)
    yield opened
    opened.close()


def refuse(*_: object) -> NoReturn:
    raise PermissionError(13, "Permission denied")


def test_noise_on_the_data_line_costs_frames_and_makes_no_wrong_count(
    cell: SpiLoadCell, board: SimulatedBoard, world: HandSetWorld, monkeypatch: pytest.MonkeyPatch
) -> None:
    random = Random(5)
    words = [random.randint(-8_000_000, 8_000_000) for _ in range(40_000)]
    world.counts["drain"] = sequence_of(words, 80.0, board.clock.now_s())
    clean = board.drain.data

    def noisy(t_s: float) -> bool:
        return clean(t_s) ^ (random.random() < 0.002)  # one sample of 500, a frame has 56

    monkeypatch.setattr(board.drain, "data", noisy)
    counts = [count for count in (cell.read(2.0) for _ in range(400)) if count is not None]
    assert len(counts) > 350
    assert set(counts) <= set(words)
    assert cell.frames_dropped > 20


def test_converter_is_restarted_after_a_dropped_frame(
    cell: SpiLoadCell, board: SimulatedBoard
) -> None:
    cell.read(2.0)
    restarts = board.drain.restarts
    board.drain.is_shorted = True
    cell.read(0.02)
    board.drain.is_shorted = False
    assert cell.read(2.0) == 100_000
    assert board.drain.restarts > restarts


def test_converter_is_restarted_at_opening_whatever_state_it_was_in(
    board: SimulatedBoard,
) -> None:
    board.drain.clock(True, board.clock.now_s())  # the last program left the clock high
    board.clock.sleep(0.1)
    cell = SpiLoadCell("drain", pins().scale.drain, board.clock, board.paths)
    assert cell.read(2.0) == 100_000
    assert board.drain.input == ("A", 128)
    cell.close()


def test_looking_spares_the_system(
    cell: SpiLoadCell, board: SimulatedBoard, monkeypatch: pytest.MonkeyPatch
) -> None:
    sleeps: list[float] = []
    sleep = board.clock.sleep

    def counted(duration_s: float) -> None:
        sleeps.append(duration_s)
        sleep(duration_s)

    for _ in range(10):
        cell.read(2.0)
    monkeypatch.setattr(board.clock, "sleep", counted)
    for _ in range(80):
        cell.read(2.0)
    assert len(sleeps) < 80 * 5  # a second's conversions; every millisecond would be 1000


def test_bus_that_fails_says_so(cell: SpiLoadCell, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> NoReturn:
        raise OSError(110, "Connection timed out")

    monkeypatch.setattr(cell._bus, "xfer2", fail)
    with pytest.raises(SensorError, match=r"drain scale: the SPI bus fails: .*timed out"):
        cell.read(1.0)


def test_no_right_to_use_the_bus_says_so(
    board: SimulatedBoard, monkeypatch: pytest.MonkeyPatch
) -> None:
    spidev: Any = sys.modules["spidev"]
    bus = spidev.SpiDev()
    monkeypatch.setattr(bus, "open", refuse)
    monkeypatch.setattr(spidev, "SpiDev", lambda: bus)
    with pytest.raises(SensorMissingError, match=r"cannot use .*spidev0\.0.*Permission denied"):
        SpiLoadCell("drain", pins().scale.drain, board.clock, board.paths)


def test_package_that_is_missing_says_so(
    board: SimulatedBoard, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "spidev", None)
    with pytest.raises(SensorMissingError, match="the package spidev is missing"):
        SpiLoadCell("drain", pins().scale.drain, board.clock, board.paths)
