"""What dominates an uncertainty, and what would have to shrink to halve it."""

from dataclasses import dataclass
from math import sqrt

from drainscale.quantities.measured import Measured

# a quarter of the variance is half of the uncertainty
_QUARTER = 0.25


@dataclass(frozen=True, slots=True)
class Halving:
    """The fewest sources whose shrinking halves U, largest first."""

    sources: tuple[str, ...]
    to: float  # the part of its present u that each of them may keep


def what_halves(budget: Measured) -> Halving:
    """Say which sources have to shrink, and to what part, for U to become half of it.

    The largest first, as few as can do it; all of them by the same factor. One source is
    enough when the rest makes up less than a quarter of the variance.

    Example:
        >>> what_halves(Measured.of_components(2.0, [("density", 0.8), ("mass", 0.2)]))
        Halving(sources=('density',), to=0.450...)
    """
    rest = 1.0
    sources: list[str] = []
    for share in budget.shares:
        if rest < _QUARTER:
            break
        sources.append(share.source)
        rest -= share.fraction
    rest = max(rest, 0.0)
    return Halving(tuple(sources), sqrt(max(_QUARTER - rest, 0.0) / (1.0 - rest)))


ADVICE = {
    "density of the fluid": "measure it: one bottle filled to the same mark with water and oil",
    "expansion of the fluid": "compare volumes at 20 °C, where it does not enter",
    "fluid temperature": "compare volumes at 20 °C, where it does not enter",
    "calibration weights": "calibrate with better weights, or on a verified shop scale",
    "repeatability": "a cell of class C3, no draught, nothing that touches the platform",
    "linearity and hysteresis": "a cell of class C3, calibrated at more points",
    "creep": "load the container five minutes before the tare",
    "zero drift": "warm the kit up for 15 minutes, keep sun and hot pans off the cell",
    "noise and vibration": "a floor that does not shake; a longer average",
    "touch of cable, hose or tray": "keep hoses, rags and trays off the platform",
    "load off-centre": "stand the container in the middle",
    "tilt of 1 degree": "level the platform by its bubble",
    "unweighed fluid": "keep one container under the outlet until it drips",
    "air buoyancy": "no need: it is a trifle",
}


def advice(source: str) -> str:
    """Say what makes a source smaller, in a line for the person at the bench."""
    return ADVICE.get(source, "a better converter would; it is hardly worth it")
