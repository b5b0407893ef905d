"""What the drivers find in place of the module ``spidev``: buses that clock chip models.

Only what the load cells use is there: data out is the converter's clock line, data in its data
line, sampled in the middle of each bit (mode 0).
"""

from collections.abc import Mapping, Sequence
from types import ModuleType

from drainscale_sim.board.clock import BoardClock
from drainscale_sim.board.hx711_chip import Hx711Chip

TRANSFER_COST_S = 30e-6  # the system's own share of a transfer (assumed)


class _Bus:
    """``spidev.SpiDev``."""

    def __init__(self, clock: BoardClock, chips: Mapping[tuple[int, int], Hx711Chip]) -> None:
        self._clock, self._chips = clock, chips
        self._chip: Hx711Chip | None = None
        self.mode = 0
        self.max_speed_hz = 500_000

    def open(self, bus: int, device: int) -> None:
        """Open a bus."""
        if (bus, device) not in self._chips:
            raise FileNotFoundError(2, "No such file or directory")
        self._chip = self._chips[bus, device]

    def xfer2(
        self,
        values: Sequence[int],
        speed_hz: int = 0,
        delay_usecs: int = 0,
        bits_per_word: int = 0,
    ) -> list[int]:
        """Send bytes, the highest bit first, and return what came meanwhile."""
        if self._chip is None:
            raise OSError(9, "Bad file descriptor")
        if self.mode != 0 or delay_usecs or bits_per_word not in (0, 8):
            raise OSError(22, "Invalid argument")
        bit_s = 1.0 / (speed_hz or self.max_speed_hz)
        t_s = self._clock.now_s()
        answer = []
        for value in values:
            taken = 0
            for place in range(7, -1, -1):
                self._chip.clock(bool(value >> place & 1), t_s)
                taken = taken << 1 | self._chip.data(t_s + 0.5 * bit_s)
                t_s += bit_s
            answer.append(taken)
        self._chip.clock(False, t_s)
        self._clock.spend(t_s - self._clock.now_s() + TRANSFER_COST_S)
        return answer

    def close(self) -> None:
        """Close the bus."""
        self._chip = None


def spidev_module(clock: BoardClock, chips: Mapping[tuple[int, int], Hx711Chip]) -> ModuleType:
    """Make the module over the chips on its buses."""
    module = ModuleType("spidev", "A stand-in for spidev that clocks chip models.")
    module.SpiDev = lambda: _Bus(clock, chips)  # type: ignore[attr-defined]  # a module made here
    return module
