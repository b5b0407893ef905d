"""What the foot switch holds to: the real gpiozero over simulated pins that bounce."""

from collections.abc import Callable, Iterator

import pytest

from drainscale.drivers.gpio import GpioChip, GpioFootSwitch
from drainscale.pins import pins
from drainscale.ports import FootEvent, FootSwitch
from drainscale_sim.board.hand_set_world import HandSetWorld
from drainscale_sim.board.simulated_board import BoardSettings, SimulatedBoard

Watch = Callable[[float], list[FootEvent]]


@pytest.fixture(params=range(5), ids=lambda seed: f"bounce{seed}")
def settings(request: pytest.FixtureRequest) -> BoardSettings:
    return BoardSettings(seed=request.param)


@pytest.fixture
def switch(board: SimulatedBoard) -> Iterator[FootSwitch]:
    chip = GpioChip()
    opened = GpioFootSwitch(pins(), chip, board.clock)
    yield opened
    opened.close()
    chip.close()


@pytest.fixture
def watch(switch: FootSwitch, board: SimulatedBoard) -> Watch:
    def until(end_s: float) -> list[FootEvent]:
        found: list[FootEvent] = []
        while board.clock.now_s() < end_s:
            board.clock.sleep(0.05)
            found += switch.events()
        return found

    return until


def test_press_is_one_press_with_its_time(watch: Watch, world: HandSetWorld) -> None:
    world.presses = [(1.0, 1.3)]
    pressed, released = watch(3.0)
    assert (pressed.change, released.change) == ("pressed", "released")
    assert pressed.t == pytest.approx(1.0, abs=0.05)  # travel and bounce come on top
    assert released.t == pytest.approx(1.3, abs=0.05)
    assert released.is_press


def test_presses_in_a_row_are_all_there(watch: Watch, world: HandSetWorld) -> None:
    world.presses = [(0.5 + n, 0.8 + n) for n in range(20)]
    assert [event.change for event in watch(22.0)] == ["pressed", "released"] * 20


def test_knock_is_no_press(watch: Watch, world: HandSetWorld) -> None:
    world.presses = [(1.0, 1.03)]
    assert not any(event.is_press for event in watch(3.0))


def test_foot_that_rests_on_it_is_no_press(watch: Watch, world: HandSetWorld) -> None:
    world.presses = [(1.0, 4.0)]
    assert not any(event.is_press for event in watch(6.0))


def test_plug_that_is_out_is_a_fault_and_in_again_restored(
    watch: Watch, board: SimulatedBoard
) -> None:
    watch(1.0)
    board.foot_switch.cut()
    fault = watch(3.0)
    board.foot_switch.mend()
    assert [event.change for event in fault + watch(5.0)] == ["fault", "restored"]


def test_events_are_told_once(watch: Watch, switch: FootSwitch, world: HandSetWorld) -> None:
    world.presses = [(1.0, 1.3)]
    watch(3.0)
    assert switch.events() == ()


def test_after_close_nothing_comes(watch: Watch, switch: FootSwitch, world: HandSetWorld) -> None:
    switch.close()
    switch.close()
    world.presses = [(1.0, 1.3)]
    assert watch(3.0) == []
