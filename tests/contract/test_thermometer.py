"""What a thermometer holds to: the real w1thermsensor over a simulated 1-Wire tree."""

from collections.abc import Iterator

import pytest

from drainscale.drivers.max31850 import OneWireThermometer
from drainscale.errors import SensorError, SensorMissingError
from drainscale.ports import PanSensorFrame, Thermometer
from drainscale.quantities.samples import PAN_FAULTS, PanFaultKind
from drainscale_sim.board.hand_set_world import HandSetWorld
from drainscale_sim.board.simulated_board import SimulatedBoard


@pytest.fixture
def thermometer(board: SimulatedBoard) -> Iterator[Thermometer]:
    opened = OneWireThermometer(board.paths)
    yield opened
    opened.close()


@pytest.mark.parametrize("pan_C", [-20.0, -0.25, 0.0, 40.25, 85.0, 127.75, 160.0])
def test_pan_and_board_are_read(
    thermometer: Thermometer, world: HandSetWorld, pan_C: float
) -> None:
    world.pan_C, world.air_C = pan_C, 21.5
    assert thermometer.read() == PanSensorFrame(board_C=21.5, pan_C=pan_C)


def test_steps_are_those_of_the_converter(thermometer: Thermometer, world: HandSetWorld) -> None:
    # MAX31850 data sheet: 0.25 °C for the thermocouple, 0.0625 °C for the cold junction
    world.pan_C, world.air_C = 40.1, 22.02
    assert thermometer.read() == PanSensorFrame(board_C=22.0, pan_C=40.0)


@pytest.mark.parametrize("fault", PAN_FAULTS)
def test_fault_withholds_the_pan_and_keeps_the_board(
    thermometer: Thermometer, world: HandSetWorld, fault: PanFaultKind
) -> None:
    world.fault_of_pan = fault
    assert thermometer.read() == PanSensorFrame(board_C=22.0, fault=fault)


def test_fault_that_is_over_leaves_nothing_behind(
    thermometer: Thermometer, world: HandSetWorld
) -> None:
    world.fault_of_pan = "open"
    thermometer.read()
    world.fault_of_pan = None
    assert thermometer.read() == PanSensorFrame(board_C=22.0, pan_C=40.0)


def test_converter_that_does_not_answer_gives_nothing(
    thermometer: Thermometer, world: HandSetWorld
) -> None:
    world.fault_of_pan = "silent"
    assert thermometer.read() is None


@pytest.mark.parametrize("frame", [bytes(9), b"\xff" * 9, bytes.fromhex("850280 18F0FFFFFF42")])
def test_broken_frame_gives_nothing_and_the_next_is_read(
    thermometer: Thermometer, board: SimulatedBoard, frame: bytes
) -> None:
    board.one_wire.next_frames.append(frame)
    assert thermometer.read() is None
    assert thermometer.read() is not None


def test_cable_that_is_out_for_long_says_so_and_in_again_is_found(
    thermometer: Thermometer, board: SimulatedBoard
) -> None:
    thermometer.read()
    board.one_wire.is_cut = True
    assert thermometer.read() is None
    board.clock.sleep(120.0)  # the kernel gives the converter up after ten searches
    with pytest.raises(SensorMissingError, match="look at plug and cable"):
        thermometer.read()
    with pytest.raises(SensorMissingError):
        thermometer.read()
    board.one_wire.is_cut = False
    board.clock.sleep(11.0)
    assert thermometer.read() == PanSensorFrame(board_C=22.0, pan_C=40.0)


def test_converter_that_is_plugged_in_late_is_found(board: SimulatedBoard) -> None:
    board.one_wire.is_cut = True
    board.clock.sleep(120.0)
    late = OneWireThermometer(board.paths)
    with pytest.raises(SensorMissingError):
        late.read()
    board.one_wire.is_cut = False
    board.clock.sleep(11.0)
    assert late.read() is not None


def test_read_takes_the_time_of_a_conversion(
    thermometer: Thermometer, board: SimulatedBoard
) -> None:
    begin_s = board.clock.now_s()
    thermometer.read()
    # MAX31850 data sheet: a conversion takes 100 ms at most
    assert board.clock.now_s() - begin_s == pytest.approx(0.1)


def test_read_after_close_raises_and_a_second_close_does_no_harm(
    thermometer: Thermometer,
) -> None:
    thermometer.close()
    thermometer.close()
    with pytest.raises(SensorError, match="was closed"):
        thermometer.read()
