"""The nine bytes of the thermocouple converter MAX31850K, decoded by us.

Neither the kernel's number nor the usual package's may be believed: both pass over the fault bits,
and a thermocouple that is torn off then reads as a plausible temperature. The check byte is right
even with a fault; a fault is a reading of its own, not an error of the bus.

Source: data sheet of MAX31850/MAX31851 (Maxim), "Memory", tables 2 to 4; check byte: Maxim,
Application Note 27.
"""

from collections.abc import Sequence

from drainscale.errors import FrameError
from drainscale.ports import PanSensorFrame
from drainscale.quantities.samples import PanFaultKind

FRAME_BYTES = 9
FAMILY = 0x3B
PAN_STEP_C = 0.25
BOARD_STEP_C = 0.0625

_CRC_POLYNOMIAL = 0x8C  # x8 + x5 + x4 + 1, low bit first
_CONFIGURATION = 4  # its upper four bits read as 1; a DS1825, of the same family, has 0 there
_FAULTS: tuple[tuple[int, PanFaultKind], ...] = (
    (0x01, "open"),
    (0x02, "short-to-ground"),
    (0x04, "short-to-supply"),
)


def crc8(data: Sequence[int]) -> int:
    """Return the check byte of 1-Wire over these bytes; over a frame with its check byte: 0.

    >>> hex(crc8(bytes.fromhex("021CB801000000")))
    '0xa2'
    """
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (_CRC_POLYNOMIAL if crc & 1 else 0)
    return crc


def decode(frame: Sequence[int]) -> PanSensorFrame:
    """Return what a frame says, a fault of the thermocouple included.

    Args:
        frame: The nine bytes of the scratchpad, in the order of the bus.

    Raises:
        FrameError: It is no frame of this converter: length, check byte, a bus held low (nine
            zeros pass the check byte), another chip, or a fault of no known kind.
    """
    if len(frame) != FRAME_BYTES:
        raise FrameError(f"thermocouple: {len(frame)} bytes came, {FRAME_BYTES} are due")
    if not any(frame):
        raise FrameError("thermocouple: nothing but zeros, the bus is held low")
    if crc8(frame):
        raise FrameError("thermocouple: the check byte does not fit")
    if frame[_CONFIGURATION] < 0xF0:
        raise FrameError("thermocouple: the chip on the bus is no MAX31850")
    board_C = _signed(frame[2] & 0xF0, frame[3]) / 256.0
    if frame[0] & 0x01:
        return PanSensorFrame(board_C, fault=_fault(frame[2]))
    return PanSensorFrame(board_C, pan_C=_signed(frame[0] & 0xFC, frame[1]) / 16.0)


def decode_line(line: str) -> PanSensorFrame:
    """Return what the first line of the kernel's ``w1_slave`` says.

    The second line is not to be used: it may repeat the last good bytes.

    >>> decode_line("84 02 80 18 f0 ff ff ff 42 : crc=42 YES").pan_C
    40.25

    Raises:
        FrameError: As ``decode``, or the line holds no bytes.
    """
    numbers, colon, _ = line.partition(":")
    try:
        frame = bytes.fromhex(numbers)
    except ValueError as error:
        raise FrameError(f"thermocouple: no bytes in {line.strip()!r}") from error
    if not colon:
        raise FrameError(f"thermocouple: the line breaks off: {line.strip()!r}")
    return decode(frame)


def _signed(low: int, high: int) -> int:
    word = high << 8 | low
    return word - 0x10000 if word & 0x8000 else word


def _fault(bits: int) -> PanFaultKind:
    for mask, kind in _FAULTS:
        if bits & mask:
            return kind
    raise FrameError("thermocouple: the converter reports a fault, but not which")
