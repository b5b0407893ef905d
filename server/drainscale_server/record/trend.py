"""Flow from the stored scale counts, for the plots of the record only.

The results on the record are the kit's own. This is a plain slope, so that a reader can redo it
with a spreadsheet:

1. the median of the readings of each 2 s, through the calibration of the job (conventional mass);
2. the slope of the least-squares line through 10 s of them; where that gives less than
   100 mL/min, through 20 s, and below 20 mL/min through 60 s;
3. over the fluid's density at 20 °C.

No point is given where a weight was put on or taken off, a sensor was silent, or the readings lie
more than some grams, or a tenth of what ran meanwhile, off the line (knocks). The fluid's
temperature is not used, which is worth 2 % at most; air buoyancy neither, 0.1 %.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import fsum
from statistics import median

from drainscale.quantities.units import G_PER_KG, flow_mL_per_min

BLOCK_S = 2.0
FEWEST_BLOCKS = 3
FULL_SHARE = 0.6  # of a window that has to have readings
BENT_SHARE = 0.1  # of what ran meanwhile may lie off the line too: a stream slows down
_MOST_MASS_KG_PER_S = 0.25  # 17 L/min: no drain runs so fast, something was put down


@dataclass(frozen=True, slots=True)
class Window:
    """A stretch through which the line goes.

    Attributes:
        from_mL_per_min: The flow from which on it is long enough.
        residual_kg: Most that a reading may lie off the line: more is a knock or a hand.
    """

    length_s: float
    from_mL_per_min: float
    residual_kg: float


WINDOWS = (Window(10.0, 100.0, 0.006), Window(20.0, 20.0, 0.004), Window(60.0, 0.0, 0.003))


@dataclass(frozen=True, slots=True)
class Block:
    """Median of the readings of one stretch."""

    t: float
    mass_kg: float


class BlockMaker:
    """Takes the median of the readings of each ``BLOCK_S``, as they come."""

    def __init__(self) -> None:
        self._made: list[Block] = []
        self._t: list[float] = []
        self._mass_kg: list[float] = []

    def add(self, t: float, mass_kg: float) -> None:
        """Take a reading, not older than the last."""
        if self._t and int(t / BLOCK_S) != int(self._t[0] / BLOCK_S):
            self._close()
        self._t.append(t)
        self._mass_kg.append(mass_kg)

    def blocks(self) -> list[Block]:
        """Give all blocks, the one that is not full yet among them."""
        self._close()
        return list(self._made)

    def _close(self) -> None:
        if self._t:
            self._made.append(Block(fsum(self._t) / len(self._t), median(self._mass_kg)))
            self._t, self._mass_kg = [], []


def flows(
    weighed: Sequence[Block], density_kg_per_m3: float, spans: Iterable[tuple[float, float]]
) -> Iterator[tuple[float, float | None]]:
    """Tell the flow at each block within the spans.

    Args:
        weighed: In time order.
        density_kg_per_m3: Of the fluid at 20 °C.
        spans: From and to, s: no window reaches over an end of its span.

    Yields:
        Time, s, and flow, mL/min: positive while the mass rises; None where there is none, and
        at the end of each span.
    """
    for from_s, to_s in spans:
        inside = [one for one in weighed if from_s <= one.t < to_s]
        for i in range(len(inside)):
            yield inside[i].t, _flow(inside, i, density_kg_per_m3)
        yield to_s, None


def _flow(inside: Sequence[Block], i: int, density_kg_per_m3: float) -> float | None:
    best: float | None = None
    for window in WINDOWS:
        slope = _slope_kg_per_s(inside, i, window)
        if slope is None:
            continue
        best = flow_mL_per_min(slope * G_PER_KG, density_kg_per_m3)
        if abs(best) >= window.from_mL_per_min:
            return best
    return best


def _slope_kg_per_s(inside: Sequence[Block], i: int, window: Window) -> float | None:
    """Slope of the least-squares line through a window about block ``i``; None: no line."""
    middle_s = inside[i].t
    first, last = i, i
    while first > 0 and middle_s - inside[first - 1].t <= window.length_s / 2.0:
        first -= 1
    while last + 1 < len(inside) and inside[last + 1].t - middle_s <= window.length_s / 2.0:
        last += 1
    held = inside[first : last + 1]
    if len(held) < max(FEWEST_BLOCKS, FULL_SHARE * window.length_s / BLOCK_S):
        return None
    mean_t = fsum(one.t for one in held) / len(held)
    mean_kg = fsum(one.mass_kg for one in held) / len(held)
    spread = fsum((one.t - mean_t) ** 2 for one in held)
    slope = fsum((one.t - mean_t) * (one.mass_kg - mean_kg) for one in held) / spread
    off_kg = [abs(one.mass_kg - mean_kg - slope * (one.t - mean_t)) for one in held]
    bent_kg = BENT_SHARE * abs(slope) * (held[-1].t - held[0].t)
    if max(off_kg) > window.residual_kg + bent_kg or abs(slope) > _MOST_MASS_KG_PER_S:
        return None
    return slope
