"""What the bare package ``w1thermsensor`` does wrong with this chip, and that ours does not."""

import importlib
import inspect
import os
import tomllib
from collections.abc import Iterator
from importlib import metadata
from pathlib import Path
from typing import Any

import pytest

from drainscale.drivers import one_wire_package
from drainscale.drivers.max31850 import OneWireThermometer
from drainscale.drivers.paths import BoardPaths
from drainscale.errors import SensorMissingError
from drainscale.ports import PanSensorFrame
from drainscale_sim.bench_world import PanFault
from drainscale_sim.board.hand_set_world import HandSetWorld
from drainscale_sim.board.max31850_chip import check_byte
from drainscale_sim.board.simulated_board import SimulatedBoard


@pytest.fixture
def package(monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.setenv("W1THERMSENSOR_NO_KERNEL_MODULE", "1")
    return importlib.import_module("w1thermsensor")


@pytest.fixture
def bare(board: SimulatedBoard, package: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    """The package as it is, on the simulated tree."""
    monkeypatch.setattr(package.W1ThermSensor, "BASE_DIRECTORY", board.paths.one_wire)
    return package.W1ThermSensor()


@pytest.fixture
def ours(board: SimulatedBoard) -> Iterator[OneWireThermometer]:
    opened = OneWireThermometer(board.paths)
    yield opened
    opened.close()


def fault_and_number(bare: Any, ours: OneWireThermometer) -> tuple[float, object]:
    read = ours.read()
    assert read is not None
    assert read.pan_C is None
    return bare.get_temperature(), read.fault


@pytest.mark.parametrize("fault", ["open", "short-to-ground", "short-to-supply"])
def test_fault_is_a_number_to_the_package_and_a_fault_to_ours(
    bare: Any, ours: OneWireThermometer, world: HandSetWorld, fault: PanFault
) -> None:
    world.fault_of_pan = fault
    assert fault_and_number(bare, ours) == (0.0625, fault)


@pytest.mark.parametrize(
    ("frame", "number"),
    [
        # 40.00 °C and 2047.75 °C with the bit for "open circuit", check bytes as due
        ("81 02 81 18 f0 ff ff ff", 40.0625),
        ("fd 7f 81 18 f0 ff ff ff", 2047.8125),
    ],
)
def test_open_thermocouple_with_a_temperature_left_in_it(
    bare: Any, ours: OneWireThermometer, board: SimulatedBoard, frame: str, number: float
) -> None:
    data = bytes.fromhex(frame)
    whole = data + bytes([check_byte(data)])
    board.one_wire.next_frames += [whole, whole]
    assert fault_and_number(bare, ours) == (number, "open")


def test_85_degrees_are_an_error_to_the_package_and_a_reading_to_ours(
    bare: Any, ours: OneWireThermometer, world: HandSetWorld, package: Any
) -> None:
    world.pan_C = 85.0
    with pytest.raises(package.ResetValueError):
        bare.get_temperature()
    assert ours.read() == PanSensorFrame(board_C=22.0, pan_C=85.0)


def test_one_line_file_ends_the_package_and_is_read_by_ours(
    package: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "3b-000000000001").mkdir()
    line = "84 02 80 18 f0 ff ff ff 42 : crc=42 YES\n"
    (tmp_path / "3b-000000000001" / "w1_slave").write_text(line)
    monkeypatch.setattr(package.W1ThermSensor, "BASE_DIRECTORY", tmp_path)
    with pytest.raises(IndexError):
        package.W1ThermSensor().get_temperature()
    ours = OneWireThermometer(BoardPaths(one_wire=tmp_path))
    assert ours.read() == PanSensorFrame(board_C=24.5, pan_C=40.25)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "\n",
        "84 02 80 18 f0 ff ff ff 43 : crc=42 NO\n84 02 80 18 f0 ff ff ff 42 t=40250\n",
        # an old kernel that says YES to a frame that is not right
        "84 02 80 18 f0 ff ff ff 43 : crc=43 YES\n84 02 80 18 f0 ff ff ff 42 t=40250\n",
        "00 00 00 00 00 00 00 00 00 : crc=00 YES\n00 00 00 00 00 00 00 00 00 t=0\n",
        "ff ff ff ff ff ff ff ff ff : crc=c9 NO\nff ff ff ff ff ff ff ff ff t=-62\n",
    ],
)
def test_file_without_a_frame_gives_nothing_and_is_counted(tmp_path: Path, text: str) -> None:
    (tmp_path / "3b-000000000001").mkdir()
    (tmp_path / "3b-000000000001" / "w1_slave").write_text(text)
    ours = OneWireThermometer(BoardPaths(one_wire=tmp_path))
    assert ours.read() is None
    assert ours.frames_dropped == 1


def test_sensor_of_another_family_is_not_taken(tmp_path: Path) -> None:
    (tmp_path / "28-000000000001").mkdir()
    (tmp_path / "28-000000000001" / "w1_slave").write_text("")
    with pytest.raises(SensorMissingError, match="no converter on the 1-Wire bus"):
        OneWireThermometer(BoardPaths(one_wire=tmp_path)).read()


def test_bus_that_is_off_says_how_to_switch_it_on(tmp_path: Path) -> None:
    with pytest.raises(SensorMissingError, match="dtoverlay=w1-gpio"):
        OneWireThermometer(BoardPaths(one_wire=tmp_path / "none")).read()


def test_ours_loads_no_kernel_module(ours: OneWireThermometer) -> None:
    ours.read()
    assert os.environ["W1THERMSENSOR_NO_KERNEL_MODULE"] == "1"


def test_ours_leaves_the_packages_own_class_alone(ours: OneWireThermometer, package: Any) -> None:
    ours.read()
    assert Path("/sys/bus/w1/devices") == package.W1ThermSensor.BASE_DIRECTORY
    assert package.W1ThermSensor.SENSOR_RESET_VALUE == 85.0


def test_package_is_the_one_that_ours_was_written_against(package: Any) -> None:
    assert metadata.version("w1thermsensor") == one_wire_package.KNOWN_VERSION
    project = Path(__file__).parents[3] / "pyproject.toml"
    extras = tomllib.loads(project.read_text(encoding="utf-8"))["project"]
    pin = f"w1thermsensor=={one_wire_package.KNOWN_VERSION}"
    assert pin in extras["optional-dependencies"]["pi"]
    assert pin in extras["optional-dependencies"]["sim"]


def test_package_still_has_the_parts_that_ours_uses(package: Any) -> None:
    sensor = package.W1ThermSensor
    assert isinstance(sensor.BASE_DIRECTORY, Path)
    assert list(inspect.signature(sensor.get_raw_sensor_strings).parameters) == ["self"]
    assert int(package.Sensor(0x3B)) == 0x3B
    source = inspect.getsource(sensor.get_raw_sensor_strings)
    assert "SensorNotReadyError" in source
    assert "NoSensorFoundError" in source
