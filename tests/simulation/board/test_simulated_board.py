"""The board as a whole: what it puts in place of the system, and takes away again."""

import importlib
import os
import sys

import pytest

from drainscale.drivers.gpio import GpioChip, GpioIndicator
from drainscale.pins import pins
from drainscale_sim.board.hand_set_world import HandSetWorld
from drainscale_sim.board.simulated_board import SimulatedBoard


def test_real_packages_run_on_the_stand_in(board: SimulatedBoard) -> None:
    with board.installed():
        gpio = importlib.import_module("RPi.GPIO")
        factory = importlib.import_module("gpiozero.pins.lgpio")
        assert gpio.lgpio is factory.lgpio is sys.modules["lgpio"]
        assert "site-packages" in (gpio.__file__ or "")
        assert "site-packages" in (factory.__file__ or "")


def test_nothing_is_left_behind(board: SimulatedBoard) -> None:
    names = ("lgpio", "spidev", "RPi.GPIO", "hx711", "gpiozero.pins.lgpio")
    before = {name: sys.modules.get(name) for name in names}
    with board.installed():
        importlib.import_module("gpiozero.pins.lgpio")
    assert {name: sys.modules.get(name) for name in names} == before
    assert "RPI_LGPIO_REVISION" not in os.environ


def test_lamp_of_a_process_that_lets_go_is_dark(board: SimulatedBoard, world: HandSetWorld) -> None:
    with board.installed():
        chip = GpioChip()
        GpioIndicator(pins(), chip).show(frozenset({"red"}))
        chip.close()  # as the kernel does it when the process ends
    assert world.seen[-1][1] == frozenset()


def test_lamps_and_sounds_are_kept(board: SimulatedBoard) -> None:
    with board.installed():
        chip = GpioChip()
        indicator = GpioIndicator(pins(), chip)
        indicator.show(frozenset({"blue"}))
        indicator.sound(1600.0)
        assert [set(lit) for _, lit in board.outputs.lamps] == [{"blue"}]
        assert [pitch_Hz for _, pitch_Hz in board.outputs.sounds] == [1600.0]
        indicator.close()
        chip.close()


@pytest.mark.parametrize("bcm", sorted(pins().outputs()))
def test_outputs_are_low_before_the_kit_runs(board: SimulatedBoard, bcm: int) -> None:
    assert not board.lines.level(bcm)


def test_data_lines_are_high_before_the_converters_are_ready(board: SimulatedBoard) -> None:
    assert board.lines.level(pins().scale.drain.data)
    assert board.lines.level(pins().scale.supply.data)
