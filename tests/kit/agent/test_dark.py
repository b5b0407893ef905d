"""Lamps of a bench that was killed, on simulated pins that stay as they stood."""

import importlib

import pytest

from drainscale.agent.dark import main
from drainscale.errors import SensorError
from drainscale.pins import pins
from drainscale_sim.board.hand_set_world import HandSetWorld
from drainscale_sim.board.simulated_board import SimulatedBoard


@pytest.fixture
def other_process(board: SimulatedBoard) -> None:
    """Somebody else holds the pins: a white lamp that is lit, a sounder that sounds."""
    lgpio = importlib.import_module("lgpio")
    handle = lgpio.gpiochip_open(0)
    lgpio.gpio_claim_output(handle, pins().lamps()["white"], 1)
    lgpio.gpio_claim_output(handle, pins().sounder.drive, 0)
    lgpio.tx_pwm(handle, pins().sounder.drive, 2500.0, 50.0)


@pytest.mark.usefixtures("other_process")
def test_lamp_that_stands_still_after_a_kill_is_put_out(
    board: SimulatedBoard, world: HandSetWorld
) -> None:
    board.lines.abandon()
    assert world.seen[-1][1] == {"white"}  # it looks like "go on"
    assert main([]) == 0
    assert world.seen[-1][1] == set()
    assert world.heard[-1][1] is None
    assert not any(line.is_output for line in board.lines.lines)


@pytest.mark.usefixtures("other_process")
def test_lamps_of_a_bench_that_runs_are_left_alone(world: HandSetWorld) -> None:
    with pytest.raises(SensorError, match="does a bench run"):
        main([])
    assert world.seen[-1][1] == {"white"}
    assert world.heard[-1][1] == 2500.0
