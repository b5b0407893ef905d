"""Raw conversions to robust readings: what is invalid never moves one."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.estimation.blocks import SATURATED_HIGH, SATURATED_LOW, Block, BlockMaker


def to_kg(count: float) -> float:
    return count / 100_000.0


def blocks_of(counts: list[int], rate_Hz: float = 10.0) -> list[Block]:
    maker = BlockMaker(to_kg, rate_Hz)
    made = [maker.add(i / rate_Hz, count) for i, count in enumerate(counts)]
    return [block for block in made if block is not None]


def test_each_conversion_of_a_slow_converter_is_a_reading_one_later() -> None:
    blocks = blocks_of([100_000, 100_010, 100_020])
    assert [(b.t, b.kg) for b in blocks] == [(0.0, 1.0), (0.1, 1.0001)]


def test_a_repeated_count_is_no_reading() -> None:
    blocks = blocks_of([100_000, 100_010, 100_010, 100_010, 100_020, 100_030])
    assert [b.t for b in blocks] == [0.0, 0.1, 0.4]


@pytest.mark.parametrize("end", [SATURATED_HIGH, SATURATED_LOW])
def test_the_end_of_the_converters_range_is_no_reading(end: int) -> None:
    """A 24-bit two's complement converter holds its last code when it is overdriven."""
    blocks = blocks_of([100_000, 100_010, end, 100_020, end, 100_030, 100_040])
    assert max(abs(b.kg - 1.0) for b in blocks) < 0.001
    assert len(blocks) == 4


@pytest.mark.parametrize("bit", [10, 15, 20, 22])
def test_a_lone_bit_error_is_left_out(bit: int) -> None:
    counts = [100_000 + i for i in range(9)]
    counts[4] ^= 1 << bit
    assert max(abs(b.kg - 1.0) for b in blocks_of(counts)) < 0.001


def test_a_bit_error_too_small_to_matter_passes() -> None:
    blocks = blocks_of([100_000, 100_001, 100_130, 100_002, 100_003])
    assert max(b.kg for b in blocks) == pytest.approx(1.0013)


def test_a_step_passes_for_it_is_no_spike() -> None:
    blocks = blocks_of([100_000, 100_001, 150_000, 150_001, 150_002])
    assert [b.kg for b in blocks] == pytest.approx([1.0, 1.00001, 1.5, 1.50001])


def test_a_spike_beside_a_hole_in_the_data_passes() -> None:
    """Neighbours more than a second apart say nothing about what lies between."""
    maker = BlockMaker(to_kg, 10.0)
    given_at = [(0.0, 100_000), (0.1, 200_000), (9.0, 100_001), (9.1, 100_002)]
    blocks = [b for t, count in given_at if (b := maker.add(t, count)) is not None]
    assert [b.kg for b in blocks] == pytest.approx([1.0, 2.0, 1.00001])


def test_a_fast_converter_is_gathered_into_ten_readings_a_second() -> None:
    blocks = blocks_of([100_000 + i % 7 for i in range(800)], rate_Hz=80.0)
    assert 95 <= len(blocks) <= 100
    assert {b.count for b in blocks} == {8}
    assert blocks[1].t - blocks[0].t == pytest.approx(0.1)


def test_two_bit_errors_among_eight_do_not_move_a_reading() -> None:
    counts = [100_000 + i % 7 for i in range(160)]
    counts[35] ^= 1 << 21
    counts[37] ^= 1 << 19
    blocks = blocks_of(counts, rate_Hz=80.0)
    assert all(abs(b.kg - 1.00003) < 0.00004 for b in blocks)
    assert all(b.t - a.t < 0.11 for a, b in pairwise(blocks))  # and none is left out for it


def test_a_gathered_reading_stands_at_the_middle_of_its_conversions() -> None:
    """A ramp of 80 counts/s read at its mean time is off by nothing."""
    blocks = blocks_of([100_000 + i for i in range(80)], rate_Hz=80.0)
    assert [b.kg for b in blocks] == pytest.approx([1.0 + 80.0 * b.t / 100_000 for b in blocks])


@given(st.lists(st.integers(-(1 << 23), (1 << 23) - 1), max_size=60), st.sampled_from([10.0, 80.0]))
def test_any_counts_give_finite_readings_in_time_order(counts: list[int], rate_Hz: float) -> None:
    blocks = blocks_of(counts, rate_Hz)
    assert all(math.isfinite(b.kg) for b in blocks)
    assert [b.t for b in blocks] == sorted(b.t for b in blocks)
    assert all(abs(b.kg) <= 83.9 for b in blocks)
