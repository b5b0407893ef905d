"""What lamps and sounder hold to: the real gpiozero over simulated pins."""

from collections.abc import Iterator

import pytest

from drainscale.drivers.gpio import GpioChip, GpioIndicator
from drainscale.errors import SensorMissingError
from drainscale.pins import pins
from drainscale.ports import LAMPS, Indicator
from drainscale.signals.vocabulary import vocabulary
from drainscale_sim.board.hand_set_world import HandSetWorld
from drainscale_sim.board.simulated_board import SimulatedBoard


@pytest.fixture
def indicator(board: SimulatedBoard) -> Iterator[Indicator]:
    chip = GpioChip()
    opened = GpioIndicator(pins(), chip)
    yield opened
    opened.close()
    chip.close()


def test_all_is_dark_and_silent_at_the_start(indicator: Indicator, world: HandSetWorld) -> None:
    assert (world.seen, world.heard) == ([], [])


@pytest.mark.parametrize("lamp", LAMPS)
def test_lamp_is_lit_and_nothing_else(indicator: Indicator, world: HandSetWorld, lamp: str) -> None:
    indicator.show(frozenset({lamp}))
    assert world.seen[-1][1] == {lamp}


def test_change_of_lamps_never_shows_both(indicator: Indicator, world: HandSetWorld) -> None:
    indicator.show(frozenset({"blue"}))
    indicator.show(frozenset({"red"}))
    assert [set(lit) for _, lit in world.seen] == [{"blue"}, set(), {"red"}]


def test_same_lamps_again_change_nothing(indicator: Indicator, world: HandSetWorld) -> None:
    indicator.show(frozenset({"blue"}))
    indicator.show(frozenset({"blue"}))
    assert len(world.seen) == 1


def test_unknown_lamp_raises_and_changes_nothing(indicator: Indicator, world: HandSetWorld) -> None:
    with pytest.raises(ValueError, match="green"):
        indicator.show(frozenset({"green", "red"}))
    assert world.seen == []


@pytest.mark.parametrize(
    "pitch_Hz", sorted({sound.pitch_Hz for sound in vocabulary().sounds.values()})
)
def test_every_pitch_of_the_vocabulary_sounds(
    indicator: Indicator, world: HandSetWorld, pitch_Hz: float
) -> None:
    indicator.sound(pitch_Hz)
    indicator.sound(None)
    assert [heard for _, heard in world.heard] == [pitch_Hz, None]


def test_pitch_can_change_without_a_pause(indicator: Indicator, world: HandSetWorld) -> None:
    indicator.sound(1600.0)
    indicator.sound(2500.0)
    assert [heard for _, heard in world.heard] == [1600.0, 2500.0]


def test_close_leaves_it_dark_and_silent(indicator: Indicator, world: HandSetWorld) -> None:
    indicator.show(frozenset(LAMPS))
    indicator.sound(2000.0)
    indicator.close()
    indicator.close()
    assert world.seen[-1][1] == frozenset()
    assert world.heard[-1][1] is None


def test_every_lamp_of_the_vocabulary_is_there() -> None:
    assert {lamp.name for lamp in vocabulary().lamps} == set(LAMPS)


def test_board_without_pins_says_whom_to_ask() -> None:
    with pytest.raises(SensorMissingError, match="group gpio"):
        GpioChip()
