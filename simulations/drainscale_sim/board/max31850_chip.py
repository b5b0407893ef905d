"""The thermocouple's converter MAX31850K: nine bytes on request.

Source: data sheet of MAX31850/MAX31851 (Maxim), "Memory", tables 2 to 4.
"""

from collections.abc import Callable
from typing import Literal

Fault = Literal["open", "short-to-ground", "short-to-supply", "silent"]
CONVERSION_S = 0.1
_FAULT_BITS = {"open": 0x01, "short-to-ground": 0x02, "short-to-supply": 0x04}
_PAN_LIMITS_C = (-270.0, 1768.0)
_RESERVED = (0xFF, 0xFF, 0xFF)


class Max31850Chip:
    """One converter; ``pan_C``, ``board_C`` and ``fault`` are asked once a conversion."""

    def __init__(
        self,
        pan_C: Callable[[float], float],
        board_C: Callable[[float], float],
        fault: Callable[[float], Fault | None] = lambda _t: None,
        *,
        address: int = 0,
    ) -> None:
        self._pan_C, self._board_C, self._fault = pan_C, board_C, fault
        self._address = address

    def frame(self, t_s: float) -> bytes | None:
        """Convert and return the nine bytes; None: it does not answer."""
        fault = self._fault(t_s)
        if fault == "silent":
            return None
        board = round(self._board_C(t_s) / 0.0625) << 4 & 0xFFFF
        if fault is None:
            lowest, highest = _PAN_LIMITS_C
            pan = round(min(max(self._pan_C(t_s), lowest), highest) / 0.25) << 2 & 0xFFFF
        else:
            pan = 0x0001  # with a fault the temperature means nothing; zero is among what comes
            board |= _FAULT_BITS[fault]
        data = bytes(
            (pan & 0xFF, pan >> 8, board & 0xFF, board >> 8, 0xF0 | self._address, *_RESERVED)
        )
        return data + bytes([check_byte(data)])


def check_byte(data: bytes) -> int:
    """Return the check byte of 1-Wire by long division, bit by bit as the wire carries them.

    Apart from the kit's own way of doing it, so that the two watch each other.
    """
    polynomial = 0b100110001  # x8 + x5 + x4 + 1
    bits = "".join(f"{byte:08b}"[::-1] for byte in data) + "0" * 8
    rest = 0
    for bit in bits:
        rest = rest << 1 | int(bit)
        if rest >> 8:
            rest ^= polynomial
    return int(f"{rest:08b}"[::-1], 2)
