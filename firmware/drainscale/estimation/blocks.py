"""Raw conversions of a load cell into robust readings, ten a second at the most.

A conversion may be wrong: at the end of the range (saturated), a repetition of the last one
(a converter that hangs says the same again and again), or hit by a bit error. None of these
may move a reading. Nothing else is filtered here: what shakes the platform is for
``platform.py`` to judge.
"""

from collections.abc import Callable
from dataclasses import dataclass

# ends of a 24-bit two's complement converter: there it says "out of range", not a value
SATURATED_HIGH = 8_388_607
SATURATED_LOW = -8_388_608

BLOCK_S = 0.1  # faster converters are gathered into blocks of this length


@dataclass(frozen=True, slots=True)
class Block:
    """A robust mean of ``count`` conversions around ``t``: what the scale shows, kg."""

    t: float
    kg: float
    count: int = 1


class BlockMaker:
    """Gathers conversions into blocks and leaves the invalid ones out.

    Args:
        to_kg: Turns one count into an indication, kg.
        rate_Hz: Conversions a second, as the job file says; up to 20 each makes its own block.
    """

    def __init__(self, to_kg: Callable[[float], float], rate_Hz: float) -> None:
        self._to_kg = to_kg
        self._span_s = 0.0 if rate_Hz <= 20.0 else BLOCK_S - 0.5 / rate_Hz
        self._last_count: float | None = None
        self._counts: list[float] = []
        self._times: list[float] = []
        self._gate = SpikeGate()

    def add(self, t: float, count: float) -> Block | None:
        """Take one conversion; return the block that it completes, if it does."""
        last, self._last_count = self._last_count, count
        if count == last or not SATURATED_LOW < count < SATURATED_HIGH:
            # a repetition is dropped at once, not only when a fault is sure: five seconds of
            # it would look like a flow that has stopped
            return None
        if self._span_s == 0.0:
            return self._gate.pass_on(Block(t, self._to_kg(count)))
        done = None
        if self._times and t - self._times[0] >= self._span_s:
            done = self._gate.pass_on(self._block())
        self._counts.append(count)
        self._times.append(t)
        return done

    def _block(self) -> Block:
        """Mean of the middle half: two bit errors among eight do not move it."""
        counts, times = sorted(self._counts), self._times
        n = len(counts)
        cut = n // 4
        inner = counts[cut : n - cut]
        block = Block(sum(times) / n, self._to_kg(sum(inner) / len(inner)), n)
        self._counts, self._times = [], []
        return block


class SpikeGate:
    """Drops a lone block that stands far out between two that agree (a bit error).

    It answers one block late. A knock rings over several blocks and passes.
    """

    SPIKE_KG = 0.003  # smaller ones do no harm
    NEAR_S = 1.0  # neighbours further apart say nothing about what lies between

    def __init__(self) -> None:
        self._before: Block | None = None
        self._held: Block | None = None

    def pass_on(self, block: Block) -> Block | None:
        """Take a block, return the one before it unless that was a spike."""
        before, held = self._before, self._held
        self._held = block
        if held is None:
            return None
        if before is not None and self._is_spike(before, held, block):
            return None
        self._before = held
        return held

    def _is_spike(self, before: Block, held: Block, after: Block) -> bool:
        if after.t - before.t > self.NEAR_S:
            return False
        low, high = sorted((before.kg, after.kg))
        out = max(held.kg - high, low - held.kg)
        return out > self.SPIKE_KG + 3.0 * (high - low)
