"""What every way of reading a load cell holds to, on the Pi's own packages over simulated pins."""

from collections.abc import Iterator
from itertools import pairwise

import pytest

from drainscale.drivers.load_cell import Way, open_load_cell
from drainscale.errors import SensorError
from drainscale.pins import pins
from drainscale.ports import LoadCell
from drainscale_sim.board.hand_set_world import HandSetWorld, sequence_of
from drainscale_sim.board.simulated_board import BoardSettings, SimulatedBoard

WAYS: tuple[Way, ...] = ("spi", "iio", "bitbang")
TIME_IS_GOOD_TO_S = {"spi": 0.002, "bitbang": 0.004, "iio": 0.011}  # the kernel looks every 10 ms
RATES_Hz = (10.0, 80.0)  # the converter's two rates, data sheet of the HX711


@pytest.fixture(params=WAYS)
def way(request: pytest.FixtureRequest) -> Way:
    chosen: Way = request.param
    return chosen


@pytest.fixture(params=RATES_Hz, ids=lambda rate: f"{rate:g}Hz")
def rate_Hz(request: pytest.FixtureRequest) -> float:
    return float(request.param)


@pytest.fixture
def settings(rate_Hz: float) -> BoardSettings:
    return BoardSettings(drain_rate_Hz=rate_Hz, has_iio=True)


@pytest.fixture
def cell(board: SimulatedBoard, way: Way) -> Iterator[LoadCell]:
    opened = open_load_cell("drain", pins().scale.drain, board.clock, way=way, paths=board.paths)
    yield opened
    opened.close()


def read(cell: LoadCell, times: int) -> list[int | None]:
    return [cell.read(2.0) for _ in range(times)]


def test_count_of_the_bridge_is_read(cell: LoadCell) -> None:
    assert cell.read(2.0) == 100_000


@pytest.mark.parametrize("count", [0, -1, 1, 8_388_606, -8_388_607, 0x555555, -0x2AAAAB])
def test_any_count_within_the_range_is_read(
    cell: LoadCell, world: HandSetWorld, count: int
) -> None:
    world.counts["drain"] = count
    assert cell.read(2.0) == count


def test_each_conversion_is_read_once_and_none_is_left_out(
    cell: LoadCell, world: HandSetWorld, board: SimulatedBoard, rate_Hz: float
) -> None:
    read(cell, 3)
    world.counts["drain"] = sequence_of(range(1000), rate_Hz, board.clock.now_s())
    counts = read(cell, 200)
    assert counts == list(range(counts[0] or 0, (counts[0] or 0) + 200))


def test_counts_come_at_the_converters_rate(
    cell: LoadCell, board: SimulatedBoard, rate_Hz: float
) -> None:
    read(cell, 3)
    begin_s = board.clock.now_s()
    read(cell, 100)
    assert board.clock.now_s() - begin_s == pytest.approx(100 / rate_Hz, rel=0.02)


def test_time_after_a_read_is_that_of_the_conversion(
    cell: LoadCell, board: SimulatedBoard, rate_Hz: float, way: Way
) -> None:
    times_s = [board.clock.now_s() for _ in range(50) if cell.read(2.0) is not None]
    gaps_s = [after - before for before, after in pairwise(times_s)][5:]
    assert max(abs(gap_s - 1 / rate_Hz) for gap_s in gaps_s) < TIME_IS_GOOD_TO_S[way]


def test_silent_converter_gives_nothing_within_the_time_allowed(
    cell: LoadCell, world: HandSetWorld, board: SimulatedBoard, way: Way
) -> None:
    world.faults["drain"] = "silent"
    read(cell, 1)  # one may wait already
    begin_s = board.clock.now_s()
    assert cell.read(0.7) is None
    allowed_s = 2.2 if way == "iio" else 0.75  # the kernel does not let itself be cut short
    assert 0.7 <= board.clock.now_s() - begin_s + 1e-9 <= allowed_s


def test_converter_that_comes_back_is_read_again(cell: LoadCell, world: HandSetWorld) -> None:
    cell.read(2.0)
    world.faults["drain"] = "silent"
    assert read(cell, 3)[-1] is None
    del world.faults["drain"]
    world.counts["drain"] = 4321
    assert [count for count in read(cell, 5) if count is not None][-2:] == [4321, 4321]


def test_stuck_converter_repeats_its_count(cell: LoadCell, world: HandSetWorld) -> None:
    cell.read(2.0)
    world.faults["drain"] = "stuck"
    read(cell, 1)
    world.counts["drain"] = 200_000
    assert read(cell, 3) == [100_000] * 3


@pytest.mark.parametrize("way", ["spi", "bitbang"])  # the kernel does not look: a stuck count
def test_data_line_on_ground_gives_nothing_and_is_counted(
    cell: LoadCell, board: SimulatedBoard
) -> None:
    cell.read(2.0)
    board.drain.is_shorted = True
    assert read(cell, 2) == [None, None]
    assert cell.frames_dropped > 0


def test_cable_that_is_out_reads_as_not_ready(cell: LoadCell, board: SimulatedBoard) -> None:
    cell.read(2.0)
    board.drain.is_unplugged = True
    assert read(cell, 2) == [None, None]


def test_count_that_follows_a_stray_pulse_and_its_pause_is_not_used(
    cell: LoadCell, world: HandSetWorld, board: SimulatedBoard, rate_Hz: float
) -> None:
    read(cell, 5)
    world.counts["drain"] = 100_001
    board.clock.sleep(1.1 / rate_Hz)
    board.drain.clock(True, board.clock.now_s())  # with a conversion waiting
    board.drain.clock(False, board.clock.now_s() + 1e-6)
    shifted = cell.read(2.0)
    # the frame is shifted by a bit, which nobody can see; channel B then reads 0, which is dropped
    assert shifted == 100_001 * 2 + 1
    assert set(read(cell, 5)) <= {100_001, None}


def test_first_count_comes_once_the_converter_has_settled(
    cell: LoadCell, board: SimulatedBoard, rate_Hz: float
) -> None:
    cell.read(2.0)
    # data sheet of the HX711: settling takes four conversions
    assert board.clock.now_s() >= 4 / rate_Hz


def test_converter_ends_on_channel_a_with_gain_128(cell: LoadCell, board: SimulatedBoard) -> None:
    read(cell, 3)
    assert board.drain.input == ("A", 128)


def test_read_after_close_raises_and_a_second_close_does_no_harm(cell: LoadCell) -> None:
    cell.close()
    cell.close()
    with pytest.raises(SensorError, match="was closed"):
        cell.read(0.1)


def test_cell_can_be_opened_again(cell: LoadCell, board: SimulatedBoard, way: Way) -> None:
    cell.close()
    again = open_load_cell("drain", pins().scale.drain, board.clock, way=way, paths=board.paths)
    assert again.read(2.0) == 100_000
    again.close()


def test_it_says_how_it_is_read(cell: LoadCell, way: Way) -> None:
    assert cell.way == way
