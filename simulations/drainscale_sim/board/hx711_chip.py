"""The load cell's converter HX711, bit by bit on its two wires.

Source: data sheet of the HX711 (Avia Semiconductor): a word of 24 bits after data ready, one bit
per rising clock; 25, 26 or 27 pulses choose the next channel and gain; a clock that is high for
more than 60 us powers down; four conversions of settling after a restart or a change of channel.
Not in the data sheet: whether a word that was fetched in part starts anew with the next conversion
(``restarts_word``; both are tried), and what more than 27 pulses choose (here: what 27 do).
"""

from collections.abc import Callable
from typing import Literal

POWER_DOWN_S = 60e-6
SETTLING_PERIODS = 4
LOWEST, HIGHEST = -(1 << 23), (1 << 23) - 1
INPUTS = {25: ("A", 128), 26: ("B", 32), 27: ("A", 64)}
_FIRST_INPUT = ("A", 128)
_PULSES_ARE_OVER_S = 100e-6

Fault = Literal["silent", "stuck"]


class Hx711Chip:
    """One converter.

    ``ideal_counts`` and ``fault`` are asked once a conversion, when it is looked at, for the time
    when it was done: what an ideal converter at gain 128 would read, and how this one fails.
    """

    def __init__(
        self,
        ideal_counts: Callable[[float], float],
        fault: Callable[[float], Fault | None] = lambda _t: None,
        *,
        rate_Hz: float = 10.0,
        born_s: float = 0.0,
    ) -> None:
        self._ideal_counts = ideal_counts
        self._ask_fault = fault
        self.period_s = 1.0 / rate_Hz
        self.input = _FIRST_INPUT
        self.is_powered = True
        # faults of the bench's wiring: the data line lies on ground, the plug is out (its pull-up)
        self.is_shorted = False
        self.is_unplugged = False
        self.restarts_word = True
        self.restarts = 0
        self._origin_s = born_s
        self._seen = -1  # the conversion that waits, or is being fetched
        self._fault: Fault | None = None
        self._pulses = 0
        self._last_pulse_s = 0.0
        self._word = 0
        self._is_high = False
        self._high_since_s = 0.0

    def clock(self, level: bool, t_s: float) -> None:
        """Take the level of the clock line from ``t_s`` on."""
        self._run_to(t_s)
        if level and not self._is_high:
            self._is_high, self._high_since_s = True, t_s
            self._pulse(t_s)
        elif not level and self._is_high:
            self._is_high = False
            if not self.is_powered:
                self._restart(t_s)

    def data(self, t_s: float) -> bool:
        """Return the level of the data line."""
        self._run_to(t_s)
        if self.is_shorted or self.is_unplugged:
            return self.is_unplugged
        if not self.is_powered or self._fault == "silent":
            return True
        if self._pulses == 0:
            return self._seen < 0
        if self._pulses <= 24:
            return bool(self._word >> (24 - self._pulses) & 1)
        return True

    def _run_to(self, t_s: float) -> None:
        if self._is_high and t_s - self._high_since_s > POWER_DOWN_S:
            self.is_powered = False
        if not self.is_powered:
            return
        self._choose_input(t_s)
        ready_s = self._origin_s + SETTLING_PERIODS * self.period_s
        # the small part keeps a conversion that is due now from being missed by rounding
        latest = int((t_s - ready_s) / self.period_s + 1e-9) if t_s >= ready_s else -1
        if latest > self._seen:
            self._seen = latest
            if self.restarts_word or self._pulses >= 25:
                self._pulses = 0
            self._fault = self._ask_fault(self._converted_at_s())

    def _choose_input(self, t_s: float) -> None:
        """Let a frame that is over choose channel and gain."""
        if self._pulses < 25 or t_s - self._last_pulse_s < _PULSES_ARE_OVER_S:
            return
        chosen = INPUTS[min(self._pulses, max(INPUTS))]
        if chosen != self.input:
            self.input = chosen
            self._origin_s, self._seen, self._pulses = self._last_pulse_s, -1, 0

    def _pulse(self, t_s: float) -> None:
        if not self.is_powered or self._fault == "silent":
            return
        if self._pulses == 0 and self._fault != "stuck":
            self._word = self._convert()
        self._pulses += 1
        self._last_pulse_s = t_s

    def _convert(self) -> int:
        channel, gain = self.input
        # nothing is wired to channel B
        ideal = self._ideal_counts(self._converted_at_s()) * gain / 128 if channel == "A" else 0.0
        return min(max(round(ideal), LOWEST), HIGHEST) & 0xFFFFFF

    def _converted_at_s(self) -> float:
        return self._origin_s + (SETTLING_PERIODS + max(self._seen, 0)) * self.period_s

    def _restart(self, t_s: float) -> None:
        self.is_powered = True
        self.input = _FIRST_INPUT
        self._origin_s, self._seen, self._pulses = t_s, -1, 0
        self._fault = None
        self.restarts += 1
