"""The bytes that the SPI peripheral sends and takes, against the converter's data sheet."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.drivers.frames import hx711 as frames
from drainscale.drivers.frames.conversions import SUSPECT_PERIODS, ConversionGuard
from drainscale.errors import FrameError

HIGH_CLOCK_US = (0.2, 50.0)  # data sheet of the HX711, "Serial Interface", T3
POWER_DOWN_US = 60.0  # same, "Reset and power-down": high for longer powers down


def bytes_for(word: int, after: str = "1" * 8) -> list[int]:
    """What the peripheral takes while a converter shifts ``word`` out: each bit twice."""
    bits = "".join(2 * bit for bit in f"{word & 0xFFFFFF:024b}") + after
    return [int(bits[at : at + 8], 2) for at in range(0, 56, 8)]


def pulses(out: bytes) -> str:
    return "".join(f"{byte:08b}" for byte in out)


# two's complement of 24 bits: data sheet of the HX711, "Output data" (800000h to 7FFFFFh)
@pytest.mark.parametrize(
    ("word", "count"),
    [(0x7FFFFF, 8388607), (0x800000, -8388608), (0xFFFFFF, -1), (0x000001, 1), (0x000000, 0)],
)
def test_word_of_the_data_sheet_has_its_count(word: int, count: int) -> None:
    assert frames.decode(bytes_for(word)) == count


@given(st.integers(frames.LOWEST, frames.HIGHEST))
def test_every_count_survives_the_wire(count: int) -> None:
    assert frames.decode(bytes_for(count)) == count


def test_frame_has_25_pulses_which_choose_channel_a_with_gain_128() -> None:
    # data sheet of the HX711, table 3: 25 pulses, input channel A, gain 128
    assert pulses(frames.PULSES_OUT).split("0").count("1") == 25
    assert "11" not in pulses(frames.PULSES_OUT)


def test_pulses_are_of_a_length_that_the_data_sheet_allows() -> None:
    shortest_us, longest_us = HIGH_CLOCK_US
    assert shortest_us <= 1e6 / frames.CLOCK_Hz <= longest_us


def test_clock_line_rests_low_after_each_transfer() -> None:
    for out in (frames.PULSES_OUT, frames.READY_PROBE_OUT, frames.RESTART_OUT):
        assert pulses(out).endswith("0")


def test_restart_holds_the_clock_high_for_longer_than_powers_down() -> None:
    high_us = pulses(frames.RESTART_OUT).index("0") * 1e6 / frames.RESTART_CLOCK_Hz
    assert high_us > 2 * POWER_DOWN_US


def test_ready_probe_makes_no_pulse() -> None:
    assert "1" not in pulses(frames.READY_PROBE_OUT)


def test_line_that_falls_within_the_probe_is_not_ready_yet() -> None:
    assert frames.is_ready([0x00])
    assert not frames.is_ready([0xF0])


def test_data_line_low_after_the_25th_pulse_is_refused() -> None:
    with pytest.raises(FrameError, match="not high after the 25th pulse"):
        frames.decode(bytes_for(0x123456, after="00000000"))


def test_line_on_ground_is_refused() -> None:
    with pytest.raises(FrameError):
        frames.decode([0] * 7)


@given(st.integers(frames.LOWEST, frames.HIGHEST), st.integers(0, 55))
def test_any_one_bit_that_flips_on_the_wire_is_refused(count: int, place: int) -> None:
    line = int.from_bytes(bytes(bytes_for(count))) ^ 1 << place
    with pytest.raises(FrameError):
        frames.decode(line.to_bytes(7))


@pytest.mark.parametrize("length", [0, 6, 8])
def test_frame_of_another_length_is_refused(length: int) -> None:
    with pytest.raises(FrameError, match=f"{length} bytes came, 7 are due"):
        frames.decode([0xFF] * length)


def read_settled(guard: ConversionGuard, period_s: float = 0.1) -> float:
    t_s = 0.0
    for _ in range(10):
        t_s += period_s
        guard.is_usable(t_s)
    return t_s


def test_first_five_conversions_after_a_restart_are_not_used() -> None:
    # data sheet: four conversions settle; one more to be safe
    guard = ConversionGuard()
    assert [guard.is_usable(0.1 * n) for n in range(7)] == [False] * 5 + [True] * 2


def test_conversion_after_four_periods_of_an_idle_line_is_suspect() -> None:
    guard = ConversionGuard()
    t_s = read_settled(guard)
    guard.idle(t_s + 0.39)
    assert guard.is_suspect()


def test_conversion_that_was_only_looked_at_late_is_not_suspect() -> None:
    guard = ConversionGuard()
    t_s = read_settled(guard)
    guard.idle(t_s + 0.09)  # then the program was held up for a second
    assert not guard.is_suspect()


def test_pause_of_a_gain_change_is_caught_and_one_late_conversion_is_not() -> None:
    settling_periods = 4  # data sheet: 400 ms at 10 samples a second, 50 ms at 80
    assert 2.0 < SUSPECT_PERIODS < settling_periods - 1.0


def test_looking_begins_before_the_next_conversion_is_due() -> None:
    guard = ConversionGuard()
    t_s = read_settled(guard)
    assert t_s + 0.05 < guard.quiet_until_s() < t_s + 0.1
