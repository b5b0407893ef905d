"""The stand-in for ``lgpio``: what the packages above rely on."""

from typing import Any

import pytest

from drainscale_sim.board.clock import BoardClock
from drainscale_sim.board.hand_set_world import HandSetWorld
from drainscale_sim.board.lgpio_stand_in import LgpioCalls, lgpio_module
from drainscale_sim.board.lines import Lines


@pytest.fixture
def clock() -> BoardClock:
    return BoardClock(HandSetWorld())


@pytest.fixture
def lines(clock: BoardClock) -> Lines:
    return Lines(clock)


@pytest.fixture
def lgpio(lines: Lines) -> Any:
    return lgpio_module(LgpioCalls(lines))


def test_constants_are_those_of_the_module(lgpio: Any) -> None:
    # lgpio 0.2.2.0, module lgpio
    assert (lgpio.SET_PULL_UP, lgpio.SET_PULL_DOWN, lgpio.SET_PULL_NONE) == (32, 64, 128)
    assert (lgpio.RISING_EDGE, lgpio.FALLING_EDGE, lgpio.BOTH_EDGES) == (1, 2, 3)
    assert (lgpio.GPIO_BUSY, lgpio.error_text(lgpio.GPIO_BUSY)) == (-79, "GPIO busy")


def test_pins_boot_pulled_as_the_board_has_it(lines: Lines) -> None:
    # Broadcom BCM2835 ARM Peripherals, table 6-31 (from memory): 0 to 8 up, 9 to 27 down
    assert [lines.level(bcm) for bcm in range(28)] == [True] * 9 + [False] * 19


def test_line_held_by_one_handle_is_busy_for_another(lgpio: Any) -> None:
    one, other = lgpio.gpiochip_open(0), lgpio.gpiochip_open(0)
    lgpio.gpio_claim_output(one, 22)
    with pytest.raises(lgpio.error, match="GPIO busy"):
        lgpio.gpio_claim_input(other, 22)
    lgpio.gpiochip_close(one)
    assert lgpio.gpio_claim_input(other, 22) == 0


def test_other_chip_cannot_be_opened(lgpio: Any) -> None:
    with pytest.raises(lgpio.error, match="can not open"):
        lgpio.gpiochip_open(4)


def test_input_cannot_be_driven(lgpio: Any) -> None:
    handle = lgpio.gpiochip_open(0)
    with pytest.raises(lgpio.error, match="not allocated"):
        lgpio.gpio_write(handle, 22, 1)
    lgpio.gpio_claim_input(handle, 22)
    with pytest.raises(lgpio.error, match="not set as an output"):
        lgpio.gpio_write(handle, 22, 1)


def test_mode_tells_direction_pull_and_edges(lgpio: Any) -> None:
    handle = lgpio.gpiochip_open(0)
    lgpio.gpio_claim_output(handle, 22)
    lgpio.gpio_claim_alert(handle, 6, lgpio.FALLING_EDGE, lgpio.SET_PULL_UP)
    assert lgpio.gpio_get_mode(handle, 22) & 0x302 == 0x202
    assert lgpio.gpio_get_mode(handle, 6) & 0x720 == 0x420
    assert lgpio.gpio_get_mode(handle, 6) >> 17 & 3 == 2


def test_alert_tells_each_edge_that_was_asked_for(lgpio: Any, lines: Lines) -> None:
    handle = lgpio.gpiochip_open(0)
    seen: list[int] = []
    lgpio.gpio_claim_alert(handle, 6, lgpio.BOTH_EDGES, lgpio.SET_PULL_UP)
    falling = lgpio.callback(handle, 6, lgpio.FALLING_EDGE, lambda *edge: seen.append(edge[2]))
    for level in (False, True, False):
        lines.set_outside(6, level)
    falling.cancel()
    lines.set_outside(6, True)
    lines.set_outside(6, False)
    assert seen == [0, 0]


def test_debounced_alert_waits_until_the_level_stands(
    lgpio: Any, lines: Lines, clock: BoardClock
) -> None:
    handle = lgpio.gpiochip_open(0)
    seen: list[tuple[float, int]] = []
    lgpio.gpio_claim_alert(handle, 6, lgpio.BOTH_EDGES, lgpio.SET_PULL_UP)
    lgpio.gpio_set_debounce_micros(handle, 6, 5000)
    lgpio.callback(handle, 6, lgpio.BOTH_EDGES, lambda *edge: seen.append((edge[3] / 1e9, edge[2])))
    for bounce in range(5):
        lines.set_outside(6, bounce % 2 == 1)
        clock.sleep(0.001)
    clock.sleep(0.1)
    assert [level for _, level in seen] == [0]
    assert seen[0][0] == pytest.approx(0.009)  # 4 ms of bounce, then 5 ms of rest


def test_square_wave_outside_its_range_is_refused(lgpio: Any) -> None:
    handle = lgpio.gpiochip_open(0)
    lgpio.gpio_claim_output(handle, 12)
    with pytest.raises(lgpio.error, match="bad PWM frequency"):
        lgpio.tx_pwm(handle, 12, 20_000, 50)


def test_closed_handle_is_unknown(lgpio: Any) -> None:
    handle = lgpio.gpiochip_open(0)
    lgpio.gpiochip_close(handle)
    with pytest.raises(lgpio.error, match="unknown handle"):
        lgpio.gpio_read(handle, 6)
