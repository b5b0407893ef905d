"""Which way a load cell is read, and a whole bench opened and closed."""

import logging
import threading

import pytest

from drainscale.drivers.bench import open_bench
from drainscale.drivers.load_cell import WAYS, Way, open_load_cell
from drainscale.errors import SensorError, SensorMissingError, SensorRefusedError
from drainscale.pins import pins
from drainscale.ports import LAMPS, FootEvent
from drainscale_sim.board.hand_set_world import HandSetWorld
from drainscale_sim.board.simulated_board import BoardSettings, SimulatedBoard

NO_SPI = BoardSettings(has_spi=False)
NO_WAY = 40e-6  # s a pin takes: too slow for pulses by the program


def way_of(board: SimulatedBoard, way: Way = "auto") -> str:
    cell = open_load_cell("drain", pins().scale.drain, board.clock, way=way, paths=board.paths)
    cell.close()
    return cell.way


def test_auto_takes_spi_where_it_is(board: SimulatedBoard) -> None:
    assert way_of(board) == "spi"


@pytest.mark.parametrize("settings", [NO_SPI])
def test_auto_takes_the_package_without_spi_and_logs_why(
    board: SimulatedBoard, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.INFO):
        assert way_of(board) == "bitbang"
    assert "way=bitbang" in caplog.text
    assert "switch SPI0 on with dtparam=spi=on" in caplog.text


@pytest.mark.parametrize("settings", [NO_SPI])
def test_auto_names_both_reasons_if_no_way_works(board: SimulatedBoard) -> None:
    board.lines.access_s = NO_WAY
    with pytest.raises(SensorMissingError, match=r"spi: .*dtparam.*bitbang: .*pulses"):
        way_of(board)


@pytest.mark.parametrize("settings", [NO_SPI])
def test_way_that_was_asked_for_is_not_replaced(board: SimulatedBoard) -> None:
    with pytest.raises(SensorMissingError, match=r"no .*spidev0\.0"):
        way_of(board, "spi")
    board.lines.access_s = NO_WAY
    with pytest.raises(SensorRefusedError):
        way_of(board, "bitbang")


@pytest.mark.parametrize("settings", [NO_SPI])
def test_second_bus_is_switched_on_in_another_way(board: SimulatedBoard) -> None:
    with pytest.raises(SensorMissingError, match="dtoverlay=spi1-1cs"):
        open_load_cell("supply", pins().scale.supply, board.clock, way="spi", paths=board.paths)


def test_pins_in_use_are_named(board: SimulatedBoard) -> None:
    first = open_load_cell(
        "drain", pins().scale.drain, board.clock, way="bitbang", paths=board.paths
    )
    board.lines.lines[pins().scale.drain.clock].owner = 99
    with pytest.raises(SensorError, match="drain scale: cannot use its pins: 'GPIO busy'"):
        open_load_cell("drain", pins().scale.drain, board.clock, way="bitbang", paths=board.paths)
    board.lines.lines[pins().scale.drain.clock].owner = 0
    first.close()


@pytest.mark.parametrize("way", WAYS)
def test_bench_works_with_all_its_threads(
    board: SimulatedBoard, world: HandSetWorld, way: Way
) -> None:
    world.presses = [(1.0, 1.3)]
    stop = threading.Event()
    counts: dict[str, int] = {"drain": 0, "supply": 0}
    events: list[FootEvent] = []
    with open_bench(pins(), board.clock, board.paths, drain_way=way, supply_way=way) as bench:
        assert bench.supply is not None
        cells = {"drain": bench.drain, "supply": bench.supply}

        def weigh(name: str) -> None:
            while not stop.is_set():
                if cells[name].read(1.0) is not None:
                    counts[name] += 1

        workers = [
            board.clock.start("drain", lambda: weigh("drain")),
            board.clock.start("supply", lambda: weigh("supply")),
            board.clock.start("pan", lambda: read_until(stop)),
        ]

        def read_until(stop: threading.Event) -> None:
            while not stop.is_set():
                assert bench.thermometer.read() is not None

        while board.clock.now_s() < 11.0:
            board.clock.sleep(0.05)
            events += bench.foot_switch.events()
        stop.set()
        assert [board.clock.join(worker, 5.0) for worker in workers] == [True] * len(workers)
    assert min(counts.values()) > 95
    assert [event.change for event in events] == ["pressed", "released"]


def test_bench_without_a_supply_scale_has_none(board: SimulatedBoard) -> None:
    with open_bench(pins(), board.clock, board.paths) as bench:
        assert bench.supply is None
        assert bench.drain.way == "spi"


def test_closed_bench_is_dark_and_silent_and_can_be_opened_again(
    board: SimulatedBoard, world: HandSetWorld
) -> None:
    for _ in range(2):
        bench = open_bench(pins(), board.clock, board.paths)
        bench.indicator.show(frozenset(LAMPS))
        bench.indicator.sound(2000.0)
        bench.close()
        bench.close()
        assert world.seen[-1][1] == frozenset()
        assert world.heard[-1][1] is None


@pytest.mark.parametrize("settings", [NO_SPI])
def test_bench_that_cannot_be_opened_lets_go_of_what_it_had(board: SimulatedBoard) -> None:
    with pytest.raises(SensorMissingError):
        open_bench(pins(), board.clock, board.paths, drain_way="spi")
    with open_bench(pins(), board.clock, board.paths, drain_way="bitbang") as bench:
        assert bench.drain.read(2.0) == 100_000


@pytest.mark.parametrize("settings", [BoardSettings(has_one_wire=False)])
def test_bench_opens_with_the_thermocouple_out(board: SimulatedBoard) -> None:
    with open_bench(pins(), board.clock, board.paths) as bench, pytest.raises(SensorMissingError):
        bench.thermometer.read()
