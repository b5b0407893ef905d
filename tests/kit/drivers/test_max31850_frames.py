"""The thermocouple converter's bytes, against its data sheet and the check byte's note."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.drivers.frames import max31850 as frames
from drainscale.errors import FrameError
from drainscale.quantities.samples import PanFaultKind
from drainscale_sim.board.max31850_chip import Fault, Max31850Chip, check_byte


def frame_of(pan_word: int, board_word: int, configuration: int = 0xF0) -> bytes:
    data = bytes(
        (pan_word & 0xFF, pan_word >> 8, board_word & 0xFF, board_word >> 8, configuration)
    )
    data += b"\xff\xff\xff"
    return data + bytes([check_byte(data)])


# MAX31855 data sheet, table 4 (same 14-bit format as bytes 0 and 1 of the MAX31850)
@pytest.mark.parametrize(
    ("bits", "pan_C"),
    [
        ("0110 0100 0000 00", 1600.0),
        ("0011 1110 1000 00", 1000.0),
        ("0000 0110 0100 11", 100.75),
        ("0000 0001 1001 00", 25.0),
        ("0000 0000 0000 00", 0.0),
        ("1111 1111 1111 11", -0.25),
        ("1111 1111 1111 00", -1.0),
        ("1111 0000 0110 00", -250.0),
    ],
)
def test_thermocouple_words_of_the_data_sheet(bits: str, pan_C: float) -> None:
    word = int(bits.replace(" ", ""), 2) << 2
    assert frames.decode(frame_of(word, 0)).pan_C == pan_C


# MAX31855 data sheet p. 10, table 5 (same 12-bit format as bytes 2 and 3 of the MAX31850)
@pytest.mark.parametrize(
    ("bits", "board_C"),
    [
        ("0111 1111 0000", 127.0),
        ("0110 0100 1001", 100.5625),
        ("0001 1001 0000", 25.0),
        ("1111 1111 1111", -0.0625),
        ("1110 1100 0000", -20.0),
        ("1100 1001 0000", -55.0),
    ],
)
def test_cold_junction_words_of_the_data_sheet(bits: str, board_C: float) -> None:
    word = int(bits.replace(" ", ""), 2) << 4
    assert frames.decode(frame_of(0, word)).board_C == board_C


# encoded by hand from the register map, MAX31850/MAX31851 data sheet, tables 2 to 4
@pytest.mark.parametrize(
    ("line", "pan_C", "board_C", "fault"),
    [
        ("84 02 80 18 F0 FF FF FF 42", 40.25, 24.5, None),
        ("FC FF F0 FF F0 FF FF FF B2", -0.25, -0.0625, None),
        ("01 00 01 19 F0 FF FF FF EC", None, 25.0, "open"),
        ("01 00 02 19 F0 FF FF FF B5", None, 25.0, "short-to-ground"),
        ("01 00 04 19 F0 FF FF FF 07", None, 25.0, "short-to-supply"),
    ],
)
def test_whole_frames(
    line: str, pan_C: float | None, board_C: float, fault: PanFaultKind | None
) -> None:
    read = frames.decode_line(f"{line} : crc={line[-2:]} YES\n")
    assert (read.pan_C, read.board_C, read.fault) == (pan_C, board_C, fault)


# Maxim Application Note 27, its example (first); catalogue of CRC algorithms, CRC-8/MAXIM-DOW,
# check value of "123456789" (second, from memory); a DS18B20 after power-up, 85 °C (third)
@pytest.mark.parametrize(
    ("data", "crc"),
    [
        ("02 1C B8 01 00 00 00", 0xA2),
        ("31 32 33 34 35 36 37 38 39", 0xA1),
        ("50 05 4B 46 7F FF 0C 10", 0x1C),
    ],
)
def test_check_byte_of_published_examples(data: str, crc: int) -> None:
    assert frames.crc8(bytes.fromhex(data)) == crc
    assert check_byte(bytes.fromhex(data)) == crc  # the chip model's own way of reckoning it


@given(st.binary(min_size=8, max_size=8))
def test_check_byte_agrees_with_long_division(data: bytes) -> None:
    assert frames.crc8(data) == check_byte(data)


@given(st.integers(-1080, 7072), st.integers(-880, 2000), st.integers(0, 15))
def test_what_the_chip_encodes_is_what_is_read(pan: int, board: int, address: int) -> None:
    pan_C, board_C = 0.25 * pan, 0.0625 * board
    frame = Max31850Chip(lambda _: pan_C, lambda _: board_C, address=address).frame(0.0)
    assert frame is not None
    read = frames.decode(frame)
    assert (read.pan_C, read.board_C, read.fault) == (pan_C, board_C, None)


@pytest.mark.parametrize("fault", ["open", "short-to-ground", "short-to-supply"])
def test_fault_of_the_chip_withholds_the_temperature(fault: Fault) -> None:
    frame = Max31850Chip(lambda _: 40.0, lambda _: 22.0, lambda _: fault).frame(0.0)
    assert frame is not None
    read = frames.decode(frame)
    assert (read.pan_C, read.board_C, read.fault) == (None, 22.0, fault)


@given(st.integers(0, 71))
def test_any_one_bit_that_flips_is_refused(place: int) -> None:
    good = int.from_bytes(bytes.fromhex("840280 18F0FFFFFF42"))
    with pytest.raises(FrameError):
        frames.decode((good ^ 1 << place).to_bytes(9))


def test_nine_zeros_pass_the_check_byte_and_are_refused() -> None:
    assert frames.crc8(bytes(9)) == 0
    with pytest.raises(FrameError, match="held low"):
        frames.decode(bytes(9))


def test_absent_chip_reads_as_ones_and_is_refused() -> None:
    with pytest.raises(FrameError, match="check byte"):
        frames.decode(b"\xff" * 9)


def test_other_chip_of_the_same_family_is_refused() -> None:
    # DS1825: bit 7 of byte 4 is 0
    with pytest.raises(FrameError, match="no MAX31850"):
        frames.decode(frame_of(0x0284, 0x1880, configuration=0x7F))


def test_fault_without_a_kind_is_refused() -> None:
    with pytest.raises(FrameError, match="not which"):
        frames.decode(frame_of(0x0001, 0x1900))


def test_reserved_bits_do_not_count() -> None:
    assert frames.decode(frame_of(0x0284 | 0x2, 0x1880 | 0x8)) == frames.decode(
        frame_of(0x0284, 0x1880)
    )


@pytest.mark.parametrize(
    "line", ["", "\n", "84 02 80", "84 02 80 18 f0 ff ff ff 42", "84 02 80 : crc=80 YES", "zz : "]
)
def test_line_without_nine_bytes_is_refused(line: str) -> None:
    with pytest.raises(FrameError):
        frames.decode_line(line)
