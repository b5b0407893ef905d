"""The model of the load cell's converter against its data sheet, pulse by pulse."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale_sim.board.hx711_chip import Fault, Hx711Chip

PERIOD_S = 0.1
US = 1e-6


def settled(counts: float = 1000.0, fault: Fault | None = None) -> Hx711Chip:
    return Hx711Chip(lambda _: counts, lambda _: fault, rate_Hz=10.0)


def clock_out(chip: Hx711Chip, t_s: float, pulses: int = 25, high_s: float = US) -> str:
    """Give pulses and return the data line after each rising edge."""
    bits = ""
    for _ in range(pulses):
        chip.clock(True, t_s)
        bits += str(int(chip.data(t_s + 0.1 * US)))  # T2: valid 0.1 us after the edge
        t_s += high_s
        chip.clock(False, t_s)
        t_s += US
    return bits


def test_line_is_high_until_four_conversions_have_settled() -> None:
    chip = settled()
    assert chip.data(0.39)
    assert not chip.data(0.41)


@given(st.integers(-(1 << 23), (1 << 23) - 1))
def test_word_comes_highest_bit_first_in_twos_complement(count: int) -> None:
    chip = settled(count)
    assert clock_out(chip, 0.41)[:24] == f"{count & 0xFFFFFF:024b}"


def test_line_is_high_after_the_25th_pulse_until_the_next_conversion() -> None:
    chip = settled()
    assert clock_out(chip, 0.41)[24] == "1"
    assert chip.data(0.49)
    assert not chip.data(0.51)


@pytest.mark.parametrize(
    ("ideal", "count"), [(9e6, 0x7FFFFF), (-9e6, 0x800000), (12.4, 12), (12.6, 13)]
)
def test_word_is_rounded_and_saturates(ideal: float, count: int) -> None:
    assert clock_out(settled(ideal), 0.41)[:24] == f"{count:024b}"


# data sheet of the HX711, table 3: input channel and gain by pulses
@pytest.mark.parametrize(("pulses", "chosen"), [(25, ("A", 128)), (26, ("B", 32)), (27, ("A", 64))])
def test_pulses_choose_the_next_input(pulses: int, chosen: tuple[str, int]) -> None:
    chip = settled()
    clock_out(chip, 0.41, pulses)
    chip.data(0.45)
    assert chip.input == chosen


def test_change_of_input_settles_for_four_conversions() -> None:
    # data sheet: 400 ms at 10 samples a second
    chip = settled()
    clock_out(chip, 0.41, 27)
    assert chip.data(0.80)
    assert not chip.data(0.82)
    assert clock_out(chip, 0.82)[:24] == f"{500:024b}"  # gain 64


def test_clock_high_for_60_us_powers_down_and_low_again_restarts() -> None:
    chip = settled()
    clock_out(chip, 0.41, 27)
    chip.clock(True, 1.0)
    assert chip.data(1.0 + 61 * US)
    chip.clock(False, 1.0 + 70 * US)
    assert (chip.input, chip.restarts) == (("A", 128), 1)
    assert chip.data(1.39)
    assert not chip.data(1.41)


@pytest.mark.parametrize("high_us", [0.2, 1.0, 50.0])
def test_pulses_of_allowed_length_are_read(high_us: float) -> None:
    # data sheet: T3 0.2 to 50 us
    assert clock_out(settled(1000), 0.41, high_s=high_us * US)[:24] == f"{1000:024b}"


def test_word_fetched_in_part_starts_anew_with_the_next_conversion() -> None:
    chip = settled(0x123456)
    clock_out(chip, 0.41, 10)
    assert clock_out(chip, 0.51)[:24] == f"{0x123456:024b}"


def test_silent_converter_never_says_ready() -> None:
    chip = settled(fault="silent")
    assert all(chip.data(0.1 * n) for n in range(30))


def test_converter_asks_once_a_conversion() -> None:
    asked: list[float] = []

    def ideal(t_s: float) -> float:
        asked.append(t_s)
        return 5.0

    chip = Hx711Chip(ideal, rate_Hz=10.0)
    for n in range(100):
        if not chip.data(0.4 + 0.01 * n):
            clock_out(chip, 0.4 + 0.01 * n)
    assert asked == pytest.approx([0.4 + PERIOD_S * n for n in range(10)])
