"""Which way a load cell is read, and all devices side by side."""

import logging
import threading

import pytest

from drainscale.drivers.gpio import GpioChip, GpioFootSwitch, GpioIndicator
from drainscale.drivers.load_cell import WAYS, Way, open_load_cell
from drainscale.drivers.max31850 import OneWireThermometer
from drainscale.errors import SensorError, SensorMissingError, SensorRefusedError
from drainscale.pins import ScalePins, pins
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


@pytest.mark.parametrize("settings", [BoardSettings(has_spi=False, has_iio=True)])
def test_auto_takes_the_kernels_driver_without_spi(board: SimulatedBoard) -> None:
    assert way_of(board) == "iio"


@pytest.mark.parametrize("settings", [NO_SPI])
def test_auto_takes_the_package_without_either_and_logs_why(
    board: SimulatedBoard, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.INFO):
        assert way_of(board) == "bitbang"
    assert "way=bitbang" in caplog.text
    assert "switch SPI0 on with dtparam=spi=on" in caplog.text
    assert "no hx711 labelled 'drain'" in caplog.text


@pytest.mark.parametrize("settings", [NO_SPI])
def test_auto_names_every_reason_if_no_way_works(board: SimulatedBoard) -> None:
    board.lines.access_s = NO_WAY
    with pytest.raises(
        SensorMissingError, match=r"spi: .*dtparam.*iio: .*labelled.*bitbang: .*pulses"
    ):
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


@pytest.mark.parametrize("settings", [BoardSettings(has_iio=True)])
@pytest.mark.parametrize("way", WAYS)
def test_all_devices_work_side_by_side_each_in_its_thread(
    board: SimulatedBoard, world: HandSetWorld, way: Way
) -> None:
    world.presses = [(1.0, 1.3)]
    stop = threading.Event()
    read = {"drain": 0, "supply": 0, "pan": 0}
    events: list[FootEvent] = []

    def weigh(name: str, wiring: ScalePins) -> None:
        cell = open_load_cell(name, wiring, board.clock, way=way, paths=board.paths)
        while not stop.is_set():
            read[name] += cell.read(1.0) is not None
        cell.close()

    def measure_pan() -> None:
        thermometer = OneWireThermometer(board.paths)
        while not stop.is_set():
            read["pan"] += thermometer.read() is not None
        thermometer.close()

    scales = pins().scale
    workers = [
        board.clock.start("drain", lambda: weigh("drain", scales.drain)),
        board.clock.start("supply", lambda: weigh("supply", scales.supply)),
        board.clock.start("pan", measure_pan),
    ]
    chip = GpioChip()
    switch, indicator = GpioFootSwitch(pins(), chip, board.clock), GpioIndicator(pins(), chip)
    while board.clock.now_s() < 11.0:
        board.clock.sleep(0.05)
        indicator.show(frozenset({LAMPS[int(board.clock.now_s()) % 4]}))
        events += switch.events()
    stop.set()
    assert [board.clock.join(worker, 5.0) for worker in workers] == [True] * 3
    indicator.close()
    switch.close()
    chip.close()
    assert min(read.values()) > 95
    assert [event.change for event in events] == ["pressed", "released"]
    assert len(world.seen) > 10


def test_closed_devices_can_be_opened_again(board: SimulatedBoard, world: HandSetWorld) -> None:
    for _ in range(2):
        chip = GpioChip()
        indicator = GpioIndicator(pins(), chip)
        indicator.show(frozenset(LAMPS))
        indicator.sound(2000.0)
        indicator.close()
        chip.close()
        assert world.seen[-1][1] == frozenset()
        assert world.heard[-1][1] is None
