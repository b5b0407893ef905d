"""A service on its way, as the demo shows it: what is known now, and what was told before."""

from abc import ABC, abstractmethod
from collections.abc import Iterable
from dataclasses import dataclass, field

from drainscale.quantities.samples import STEP_NAMES
from drainscale_sim.demo.snapshot import Snapshot, Told

HOLD_S = 2.0
FLUID_EVERY_S = 2.0  # how often a temperature is kept for the chart


@dataclass(slots=True)
class Signals:
    """What the kit's outputs and the technician's foot do, as the board's pins saw it.

    A lamp that flashes and a sounder that beeps count for some seconds.
    """

    lit_s: dict[str, float] = field(default_factory=dict)  # when each lamp was lit last
    sounded_s: float = float("-inf")
    presses: int = 0

    def see(self, t: float, lit: Iterable[str], *, is_sounding: bool) -> None:
        """Note what is lit and whether it sounds at ``t``."""
        self.lit_s.update(dict.fromkeys(lit, t))
        if is_sounding:
            self.sounded_s = t

    def lit(self, t: float) -> set[str]:
        """Return the lamps that are lit, or flash."""
        return {lamp for lamp, lit_s in self.lit_s.items() if t - lit_s <= HOLD_S}

    def sounds(self, t: float) -> bool:
        """Tell whether it sounds, or did a moment ago."""
        return t - self.sounded_s <= HOLD_S


class Course(ABC):
    """A service on its way.

    Attributes:
        now: The figures at the last moment that is known.
        t: Time of the service that is shown, s.
        told: All events until then.
        fluid: Times, s, and estimates of the fluid's temperature, °C.
        signals: What board and technician do; ``None`` where nobody recorded that.
        is_length_known: Whether ``duration_s`` is sure.
    """

    now: Snapshot
    signals: Signals | None = None
    is_length_known = True

    def __init__(self) -> None:
        self.t = 0.0
        self.told: list[Told] = []
        self.fluid: list[tuple[float, float]] = []

    @property
    @abstractmethod
    def duration_s(self) -> float:
        """Length of the service, s."""

    @property
    @abstractmethod
    def is_over(self) -> bool:
        """Tell whether it is at its end."""

    @abstractmethod
    def advance(self, until_s: float) -> list[Told]:
        """Go on to ``until_s``; return the events on the way."""

    def keep_fluid(self) -> None:
        """Keep the present temperature for the chart."""
        is_due = not self.fluid or self.now.t - self.fluid[-1][0] >= FLUID_EVERY_S
        if self.now.fluid_C is not None and is_due:
            self.fluid.append((self.now.t, self.now.fluid_C))

    def step_state(self, step: str) -> str:
        """Tell whether a step is ``done``, ``now`` or ``to come``."""
        if step == self.now.step:
            return "now"
        order = STEP_NAMES.index
        return "done" if order(step) < order(self.now.step) else "to come"
