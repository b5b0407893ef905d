"""What happens on the platform: readings that can be trusted, and the gaps between them.

Two states. *Quiet*: each block lies where the last second leads one to expect; it is passed
on. *Shaken*: one does not; blocks are held back until the latest ones lie on a line again,
then the gap is told with the level and slope before and after it, and how far the reading
left the span between them. Oil may run meanwhile: nothing here assumes a constant load.

A hand on the container goes out and comes back, a knock rings, vibration swings about the
line: all leave the span. A pump stroke or the begin of a flow goes one way and does not.
"""

from collections import deque
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt

from drainscale.estimation.blocks import Block
from drainscale.estimation.lines import Line, fit_line

WINDOW_S = 0.8  # what the next block is expected from
SETTLE_S = 0.6  # how long the reading lies on a line before it is trusted again
SHAKING_S = 2.5  # shaking (an engine) about the course expected, for so long, is noise
STEADY_SHAKING_S = 15.0  # shaking about another level for so long: it is not a hand
PUMPING_S = 5.0  # falling steadily while it swings for so long: somebody pumps hard
PUMPING_KG = 0.1
PUMPING_KG_PER_S = 0.003
MIN_POINTS = 4
MEAN_N = 10  # blocks of a mean that a swing does not raise
GATE_SIGMAS = 8.0  # of a block about its prediction (whose own error is in it)
GATE_KG = 0.0008  # smaller steps are not worth a gap
MAX_SHAKING_KG = 0.025  # noise above this is a hand, not an engine
MAX_SLOPE_KG_PER_S = 0.15  # faster than any drain or pump
STREAM_NOISE_S = 0.03  # a strong stream splashes: noise in kg for each kg/s of flow
EMPTY_S = 0.35  # the platform is empty when it reads so for this long
SIGMA_FLOOR_KG = 0.00003
SIGMA_START_KG = 0.0003
QUIET_AGAIN = 3.0  # the noise is at most so many times the scatter of a second (chi-square)


@dataclass(frozen=True, slots=True)
class Still:
    """A block that can be trusted, with the standard deviation of one such block."""

    t: float
    kg: float
    sigma_kg: float


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch that was not trusted, and what stood on either side.

    ``excursion_kg`` is how far the reading went beyond the span between both sides.
    ``is_noisy``: it ended because the shaking went on for long, not because it ceased.
    """

    t0: float
    kg0: float
    slope0_kg_per_s: float
    t1: float
    kg1: float
    slope1_kg_per_s: float
    excursion_kg: float
    sigma_kg: float
    is_noisy: bool
    high_kg: float = float("-inf")  # the highest mean of a second within it

    @property
    def step_kg(self) -> float:
        """What the reading gained (lost, if negative) over the gap."""
        return self.kg1 - self.kg0


@dataclass(frozen=True, slots=True)
class Placed:
    """The platform went from empty to loaded at ``t``; it rests at ``kg`` since ``known_t``."""

    t: float
    kg: float
    known_t: float


@dataclass(frozen=True, slots=True)
class Lifted:
    """The load was taken away at ``t``; ``kg`` is the last reading to be trusted before."""

    t: float
    kg: float
    t_trusted: float


@dataclass(frozen=True, slots=True)
class Shaken:
    """The reading left its line at ``t`` (whether it means anything shows later)."""

    t: float


Happening = Still | Gap | Placed | Lifted | Shaken


class Platform:
    """Judges the blocks of one scale.

    Args:
        empty_below_kg: An empty platform reads less than this; a bottle that is nearly empty
            reads more.
        loaded_above_kg: What is put on an empty platform reads more than this; a rag or a hand
            reads less.
        interval_s: Time from one block to the next; a slow converter's are far apart.
    """

    def __init__(
        self, empty_below_kg: float, loaded_above_kg: float, interval_s: float = 0.1
    ) -> None:
        self._points_s = 1.6 * (MIN_POINTS - 1) * interval_s  # the least of blocks, one missing
        self._empty_below_kg = empty_below_kg
        self._loaded_above_kg = loaded_above_kg
        self._window: deque[Block] = deque()
        self._held: list[Block] = []
        self._sigma_kg = SIGMA_START_KG
        self._is_quiet = False
        self._before: Line | None = None  # the line that was left; None at the very start
        self._t_before = 0.0
        self._forget_extremes()
        self._low_since: float | None = None
        self.is_loaded: bool | None = None  # None: never seen quiet yet
        self.is_noisy = False
        # somebody may pump from what stands there: told by who knows, for a hand looks alike
        self.may_be_pumped = False

    @property
    def sigma_kg(self) -> float:
        """Standard deviation of one trusted block about its line."""
        return self._sigma_kg

    @property
    def is_quiet(self) -> bool:
        """Whether the latest block could be trusted."""
        return self._is_quiet

    def add(self, block: Block) -> list[Happening]:
        """Judge one block; return what became known by it, in time order."""
        if not self._is_quiet:
            return self._while_shaken(block)
        window = self._window
        if block.t - window[-1].t > SHAKING_S:  # a hole in the data: judge anew
            return [*self._leave(block), *self._while_shaken_tail()]
        line = self._line()
        spread = self._spread(line, block.t)
        residual = block.kg - line.at(block.t)
        if abs(residual) > GATE_KG + GATE_SIGMAS * self._sigma_kg * spread:
            return self._leave(block)
        self._learn(residual / spread, line.rms)
        window.append(block)
        span_s = SHAKING_S if self.is_noisy else WINDOW_S
        while block.t - window[0].t > span_s and len(window) > MIN_POINTS:
            window.popleft()
        if self.is_noisy and (calm := self._calmed()):
            return self._shaking_ceased(calm)
        return [Still(block.t, block.kg, self._sigma_kg)]

    def _calmed(self) -> list[Block]:
        """The latest blocks, if the shaking has ceased since they came."""
        calm = self._latest(list(self._window), SETTLE_S)
        if not calm:
            return []
        line = fit_line([b.t for b in calm], [b.kg for b in calm])
        if abs(line.slope) >= MAX_SLOPE_KG_PER_S:  # the straight middle of a swing
            return []
        return calm if line.rms < 0.25 * self._sigma_kg else []

    def _shaking_ceased(self, calm: list[Block]) -> list[Happening]:
        """Close the shaken stretch with a gap of its own: a hand may have left a step."""
        shaken = [b for b in self._window if b.t < calm[0].t]
        if len(shaken) < MIN_POINTS:
            return []
        self._before = fit_line([b.t for b in shaken], [b.kg for b in shaken])
        self._t_before = shaken[-1].t
        self._held = []
        self._forget_extremes()
        self._sigma_kg = SIGMA_START_KG
        return self._resume(calm, is_noisy=False)

    def _latest(self, blocks: list[Block], span_s: float) -> list[Block]:
        return _latest(blocks, span_s, self._points_s)

    def _line(self) -> Line:
        return fit_line([b.t for b in self._window], [b.kg for b in self._window])

    @staticmethod
    def _spread(line: Line, t: float) -> float:
        """Standard error of a new point about the line, in units of one point's."""
        lever = (t - line.t_mean) ** 2 / line.sxx if line.sxx > 0.0 else 1.0
        return sqrt(1.0 + 1.0 / line.n + lever)

    def _learn(self, residual_kg: float, rms_kg: float) -> None:
        """Follow the noise: up slowly (a flow that bends is not noise), down fast.

        Down at once where the last second shows that what taught it is over: a pump's strokes.
        """
        variance = self._sigma_kg**2
        gain = 0.02 if residual_kg**2 > variance else 0.05
        variance += gain * (min(residual_kg**2, 9.0 * variance) - variance)
        sigma_kg = max(sqrt(variance), SIGMA_FLOOR_KG)
        self._sigma_kg = min(sigma_kg, max(QUIET_AGAIN * rms_kg, SIGMA_START_KG))
        if self._sigma_kg < 3.0 * SIGMA_START_KG:
            self.is_noisy = False

    def _leave(self, block: Block) -> list[Happening]:
        self._before = self._line()
        self._t_before = self._window[-1].t
        self._held = [block]
        self._forget_extremes()
        self._is_quiet = False
        self._low_since = None
        return [Shaken(block.t)]

    def _forget_extremes(self) -> None:
        """A gap begins: of its blocks only the latest are held, of the rest the extremes."""
        self._high_kg = self._peak_kg = float("-inf")
        self._trough_kg = float("inf")

    def _while_shaken_tail(self) -> list[Happening]:
        return self._watch_for_empty(self._held[-1])

    def _while_shaken(self, block: Block) -> list[Happening]:
        self._held.append(block)
        if len(self._held) >= MEAN_N:
            mean = sum(b.kg for b in self._held[-MEAN_N:]) / MEAN_N
            self._high_kg = max(self._high_kg, mean)
        out = self._watch_for_empty(block)
        settled, is_noisy = self._settled()
        if settled:
            out += self._resume(settled, is_noisy)
        elif len(self._held) > 400:  # bounded: what is older does not decide any more
            dropped = self._held[:200]
            del self._held[:200]
            self._peak_kg = max(self._peak_kg, *(b.kg for b in dropped))
            self._trough_kg = min(self._trough_kg, *(b.kg for b in dropped))
        return out

    def _watch_for_empty(self, block: Block) -> list[Happening]:
        if block.kg >= self._empty_below_kg:
            self._low_since = None
            return []
        if self._low_since is None:
            self._low_since = block.t
        if block.t - self._low_since < EMPTY_S or self.is_loaded is not True:
            return []
        return [self._lift(self._low_since)]

    def _lift(self, t: float) -> Lifted:
        before = self._before
        kg = before.at(self._t_before) if before is not None else 0.0
        self.is_loaded = False
        self._before = None  # the gap between a load and none is told by this, not by a Gap
        return Lifted(t, kg, self._t_before)

    def _settled(self) -> tuple[list[Block], bool]:
        """The latest held blocks if they lie on a line, and whether they shake about it."""
        held = self._held
        quick = self._latest(held, SETTLE_S)
        if quick:
            line = fit_line([b.t for b in quick], [b.kg for b in quick])
            calm_kg = max(3.0 * min(self._sigma_kg, SIGMA_START_KG * 2), 0.0003)
            calm_kg += STREAM_NOISE_S * abs(line.slope)
            if line.rms <= calm_kg and abs(line.slope) < MAX_SLOPE_KG_PER_S:
                return quick, False
        slow = self._latest(held, SHAKING_S)
        if slow:
            line = fit_line([b.t for b in slow], [b.kg for b in slow])
            is_noise = line.rms <= MAX_SHAKING_KG and self._shakes_about(line, slow)
            if is_noise and (self._is_expected(line) or self._is_steady(slow[-1].t)):
                return slow, True
        if self.may_be_pumped and self.is_loaded is True:
            return self._pumped(), True
        return [], False

    def _pumped(self) -> list[Block]:
        """The latest blocks if they swing about a line that falls as a pumped jug's."""
        blocks = self._latest(self._held, PUMPING_S)
        if not blocks:
            return []
        line = fit_line([b.t for b in blocks], [b.kg for b in blocks])
        if line.rms > PUMPING_KG or not -MAX_SLOPE_KG_PER_S < line.slope < -PUMPING_KG_PER_S:
            return []
        third = len(blocks) // 3
        for part in (blocks[:third], blocks[third : 2 * third], blocks[2 * third :]):
            off = sum(b.kg - line.at(b.t) for b in part) / len(part)
            if abs(off) > 0.4 * line.rms:
                return []
        return blocks

    def _is_expected(self, line: Line) -> bool:
        """Whether shaking goes on about the course from before: a hand would have moved it."""
        before = self._before
        if before is None:
            return False
        ahead = line.t_mean - self._t_before
        expected = before.slope * ahead
        slack = 0.001 + 2.0 * line.rms / sqrt(line.n) + 0.3 * abs(expected)
        return abs(line.mean - before.at(self._t_before) - expected) <= slack

    def _is_steady(self, t: float) -> bool:
        return t - self._held[0].t >= STEADY_SHAKING_S

    @staticmethod
    def _shakes_about(line: Line, blocks: list[Block]) -> bool:
        """Whether the residuals change sign often: swinging about a line, not off it."""
        signs = [b.kg > line.at(b.t) for b in blocks]
        changes = sum(a != b for a, b in pairwise(signs))
        return changes >= len(blocks) // 3

    def _resume(self, settled: list[Block], is_noisy: bool) -> list[Happening]:
        out: list[Happening] = []
        line = fit_line([b.t for b in settled], [b.kg for b in settled])
        if is_noisy:
            self._sigma_kg = max(line.rms, self._sigma_kg)
        elif self._before is None or self.is_noisy:
            self._sigma_kg = min(max(line.rms, SIGMA_FLOOR_KG), SIGMA_START_KG)
        self.is_noisy = is_noisy
        t1, kg1 = settled[0].t, line.at(settled[0].t)
        loaded = line.mean >= (
            self._empty_below_kg if self.is_loaded is True else self._loaded_above_kg
        )
        if self.is_loaded is True and not loaded:
            out.append(self._lift(self._low_since or t1))
        elif self.is_loaded is False and loaded:
            out.append(Placed(self._came_up(), kg1, settled[-1].t))
        elif self._before is not None:
            kg0 = self._before.at(self._t_before)
            out.append(
                Gap(
                    self._t_before, kg0, self._before.slope, t1, kg1, line.slope,
                    self._excursion(kg0, kg1, t1), self._sigma_kg, is_noisy, self._high_kg,
                )
            )  # fmt: skip
        self.is_loaded = loaded
        self._is_quiet = True
        self._window = deque(settled)
        self._held = []
        self._low_since = None
        out += [Still(b.t, b.kg, self._sigma_kg) for b in settled]
        return out

    def _came_up(self) -> float:
        """When the load came onto the platform: the last time it still read empty."""
        blocks = self._held or self._window  # the latter where it came softly, amid shaking
        up = blocks[0].t
        for block in blocks:
            if block.kg < self._loaded_above_kg:
                up = block.t
        return up

    def _excursion(self, kg0: float, kg1: float, until_t: float) -> float:
        low, high = min(kg0, kg1), max(kg0, kg1)
        outside = (max(b.kg - high, low - b.kg) for b in self._held if b.t < until_t)
        gone = max(self._peak_kg - high, low - self._trough_kg)
        return max(0.0, gone, max(outside, default=0.0))


def _latest(blocks: list[Block], span_s: float, points_s: float) -> list[Block]:
    """The latest blocks that cover at least ``span_s``, or none if they do not reach back."""
    end = blocks[-1].t
    first = len(blocks) - 1
    while first > 0 and (end - blocks[first].t < span_s or len(blocks) - first < MIN_POINTS):
        first -= 1
    if end - blocks[first].t < span_s or len(blocks) - first < MIN_POINTS:
        return []
    if end - blocks[first].t > max(3.0 * span_s, points_s):  # a hole: no proof of rest
        return []
    return blocks[first:]
