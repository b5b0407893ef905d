"""The kernel's driver for the load cell: which device is taken, and what is not a count."""

import errno
from pathlib import Path

import pytest

from drainscale.drivers.hx711_iio import IioLoadCell
from drainscale.drivers.paths import BoardPaths
from drainscale.errors import SensorMissingError
from drainscale_sim.board.clock import BoardClock
from drainscale_sim.board.hand_set_world import HandSetWorld
from drainscale_sim.board.simulated_board import BoardSettings, SimulatedBoard
from drainscale_sim.board.sysfs_path import sysfs_path


@pytest.fixture
def settings() -> BoardSettings:
    return BoardSettings(has_iio=True)


def device(root: Path, number: int, name: str = "hx711", label: str | None = None) -> None:
    folder = root / f"iio:device{number}"
    folder.mkdir()
    (folder / "name").write_text(f"{name}\n")
    (folder / "in_voltage0_raw").write_text(f"{8388608 + number}\n")
    if label is not None:
        (folder / "label").write_text(f"{label}\n")


def count_of(name: str, root: Path) -> int | None:
    cell = IioLoadCell(name, BoardClock(HandSetWorld()), BoardPaths(iio=root))
    return cell.read(1.0)


def test_device_is_found_by_its_label(tmp_path: Path) -> None:
    device(tmp_path, 0, name="ads1015", label="drain")
    device(tmp_path, 3, label="supply")
    device(tmp_path, 7, label="drain")
    assert count_of("drain", tmp_path) == 7
    assert count_of("supply", tmp_path) == 3


def test_only_device_without_a_label_is_the_drain_scales(tmp_path: Path) -> None:
    device(tmp_path, 2)
    assert count_of("drain", tmp_path) == 2
    with pytest.raises(SensorMissingError, match="no hx711 labelled 'supply' among the 1"):
        count_of("supply", tmp_path)


def test_two_devices_without_labels_are_not_guessed_at(tmp_path: Path) -> None:
    device(tmp_path, 0)
    device(tmp_path, 1)
    with pytest.raises(SensorMissingError, match="among the 2"):
        count_of("drain", tmp_path)


def test_folder_that_is_not_there_is_a_missing_device(tmp_path: Path) -> None:
    with pytest.raises(SensorMissingError, match="among the 0"):
        count_of("drain", tmp_path / "none")


# offset binary: drivers/iio/adc/hx711.c; both ends are saturation
@pytest.mark.parametrize(
    ("raw", "count"), [(0, -8388608), (8388608, 0), (8388607, -1), (16777215, 8388607)]
)
def test_offset_binary_becomes_a_signed_count(board: SimulatedBoard, raw: int, count: int) -> None:
    cell = IioLoadCell("drain", board.clock, board.paths)
    cell.read(2.0)
    board.iio.next_texts.append(f"{raw}\n")
    assert cell.read(2.0) == count


# an error number that a triggered buffer passes on as a sample: -EIO in 32 bits
@pytest.mark.parametrize("text", ["4294967291\n", "-5\n", "", "none\n"])
def test_what_is_no_word_is_dropped_and_counted(board: SimulatedBoard, text: str) -> None:
    cell = IioLoadCell("drain", board.clock, board.paths)
    cell.read(2.0)
    board.iio.next_texts.append(text)
    assert cell.read(2.0) == 100_000
    assert cell.frames_dropped == 1


def test_driver_that_is_unloaded_says_so(tmp_path: Path) -> None:
    device(tmp_path, 0)

    def gone(path: Path) -> None:
        if path.name == "in_voltage0_raw":
            raise OSError(errno.ENODEV, "No such device")

    cell = IioLoadCell(
        "drain", BoardClock(HandSetWorld()), BoardPaths(iio=sysfs_path(tmp_path, gone))
    )
    with pytest.raises(SensorMissingError, match=r"went away: .*No such device"):
        cell.read(1.0)
