"""One conversion of the HX711 as the SPI peripheral clocks it: bytes out, bytes in, count.

The data line out of the peripheral is the converter's clock: each bit 1 is a pulse, each bit 0 a
pause. 24 pulses fetch the word, the 25th chooses channel A with gain 128 for the next conversion.
A word has no checksum. What can be told from the wire is this: the line is steady over a pulse
and its pause, and it is high from the 25th pulse on, for a new conversion runs.

Source: data sheet of the HX711 (Avia Semiconductor), "Serial Interface", figure 2 and table 3.
"""

from collections.abc import Sequence

from drainscale.errors import FrameError

CLOCK_Hz = 1_000_000  # one bit lasts 1 us; the data sheet allows 0.2 to 50 us of high clock
WORD_BITS = 24
PULSES_OUT = bytes([0xAA] * 6 + [0x80])  # 24 pulses, the 25th: channel A, gain 128
READY_PROBE_OUT = bytes([0x00])  # no pulse; shows the data line for 8 us

# High clock of 160 us in one byte, more than the 60 us that power the converter down; the byte
# after it lets the clock go low again, which starts it anew at channel A, gain 128.
RESTART_OUT = bytes([0xFF, 0x00])
RESTART_CLOCK_Hz = 50_000

SETTLING_FRAMES = 5  # after a restart; the data sheet says that four conversions settle it
LOWEST, HIGHEST = -(1 << 23), (1 << 23) - 1  # both ends: input out of range

_PAIRS = {0b00: 0, 0b11: 1}  # the line at a pulse and at its pause


def is_ready(probe_in: Sequence[int]) -> bool:
    """Tell from the answer to ``READY_PROBE_OUT`` whether a conversion waits: the line is low."""
    return not any(probe_in)


def count_of_word(word: int) -> int:
    """Return the signed count of a 24-bit word in two's complement.

    >>> count_of_word(0x7FFFFF), count_of_word(0x800000), count_of_word(0xFFFFFF)
    (8388607, -8388608, -1)
    """
    return word - (1 << WORD_BITS) if word >> (WORD_BITS - 1) else word


def decode(frame_in: Sequence[int]) -> int:
    """Return the count in the answer to ``PULSES_OUT``.

    A stray pulse before the frame shifts it by one bit and cannot be seen here: the clock line
    must rest low. Saturated counts are valid.

    Args:
        frame_in: Seven bytes, as the peripheral took them.

    Raises:
        FrameError: The bytes cannot come from a converter that follows the clock.
    """
    if len(frame_in) != len(PULSES_OUT):
        raise FrameError(f"load cell: {len(frame_in)} bytes came, {len(PULSES_OUT)} are due")
    if frame_in[-1] != 0xFF:
        raise FrameError("load cell: the data line is not high after the 25th pulse")
    line = int.from_bytes(bytes(frame_in[:-1]))
    word = 0
    for place in range(WORD_BITS - 1, -1, -1):
        bit = _PAIRS.get(line >> (2 * place) & 0b11)
        if bit is None:
            raise FrameError("load cell: the data line moved without a clock pulse")
        word = word << 1 | bit
    return count_of_word(word)
