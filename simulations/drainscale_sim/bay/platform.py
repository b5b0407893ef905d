"""A weighing platform: what stands on it, and what shakes, touches and knocks it."""

from dataclasses import dataclass, field
from math import exp, pi, sin
from typing import Literal

from drainscale_sim.bay.noise import normal_at

PulseKind = Literal["knock", "touch", "thump", "shake"]
TOUCH_RISE_S, TOUCH_FALL_S = 0.2, 0.1  # common practice, no source
# kilograms of conventional mass that balance one kilogram of steel in reference air (OIML D 28)
_ON_WEIGHTS = 1.0 - 1.2 / 8000.0


@dataclass
class Vessel:
    """A drain container, a jug or a bottle, with what is in it.

    Args:
        name: What it is called in the truth.
        tare_kg: Its own mass, as a scale shows it.
        oil_kg: Oil in it, true mass.
        pump_kg: The pump and hose in it.
    """

    name: str
    tare_kg: float
    oil_kg: float = 0.0
    pump_kg: float = 0.0


@dataclass(frozen=True)
class Pulse:
    """A short force on the platform.

    Args:
        kind: `knock` rings and dies out; `touch` presses and lets go; `thump` is a vessel set
            down; `shake` trembles without a mean.
        size_kg: Its peak, as the scale would show it.
    """

    kind: PulseKind
    start_s: float
    lasts_s: float
    size_kg: float

    def force_kg(self, t: float, seed: int) -> float:
        """Force at `t`, in kg as a scale shows it."""
        age = t - self.start_s
        if not 0.0 <= age < self.lasts_s:
            return 0.0
        match self.kind:
            case "touch":
                # a hand comes and goes within tenths of a second, and never holds still
                rise = min(age / TOUCH_RISE_S, (self.lasts_s - age) / TOUCH_FALL_S, 1.0)
                sway = 1.0 + 0.25 * sin(2.0 * pi * 0.7 * age + self.start_s)
                return self.size_kg * rise * (sway + 0.2 * normal_at(seed, t))
            case "shake":
                return self.size_kg * normal_at(seed, t) * sin(pi * age / self.lasts_s)
            case "thump" | "knock":
                # a loaded platform rings at some 10 Hz (common practice, no source)
                return self.size_kg * exp(-6.0 * age / self.lasts_s) * sin(2.0 * pi * 11.0 * age)


@dataclass
class Platform:
    """One scale's platform.

    Args:
        seed: Of its shaking.
        air_kg_per_m3: Air density of the day, for the lift on oil.
    """

    seed: int
    air_kg_per_m3: float = 1.2
    stands: Vessel | None = None
    vibration_kg: float = 0.0
    push_kg: float = 0.0  # of a landing stream, in this step
    shaken_kg: float = 0.0  # share of the last load that people and shaking made
    pulses: list[Pulse] = field(default_factory=list)
    _share: tuple[float, float, float, float] = (1.0, 1.0, 0.0, 0.0)  # from, to, start, lasts
    _leaves: bool = False
    _moves: bool = False

    def put(self, t: float, vessel: Vessel, takes_s: float) -> None:
        """Set a vessel down within `takes_s`; a small thump at the end of it."""
        self.stands = vessel
        self._share, self._leaves, self._moves = (0.0, 1.0, t, takes_s), False, True
        self.pulses.append(Pulse("thump", t + 0.7 * takes_s, 0.6, 0.15 * vessel.tare_kg))

    def take(self, t: float, takes_s: float) -> None:
        """Lift what stands there within `takes_s`."""
        self._share, self._leaves, self._moves = (1.0, 0.0, t, takes_s), True, True

    def press(self, pulse: Pulse) -> None:
        """Let a force come."""
        self.pulses.append(pulse)

    def load_kg(self, t: float, oil_kg_per_m3: float) -> float:
        """What presses on the cell at `t`, in kg of conventional mass."""
        load = self.push_kg
        vessel = self.stands
        if vessel is not None:
            oil = vessel.oil_kg * (1.0 - self.air_kg_per_m3 / oil_kg_per_m3) / _ON_WEIGHTS
            load += (vessel.tare_kg + vessel.pump_kg + oil) * self._contact(t)
        self.shaken_kg = 0.0
        if self.pulses:
            self.pulses = [p for p in self.pulses if t < p.start_s + p.lasts_s]
            self.shaken_kg = sum(pulse.force_kg(t, self.seed) for pulse in self.pulses)
        if self.vibration_kg > 0.0:
            load += self.vibration_kg * normal_at(self.seed + 1, t)
        return load + self.shaken_kg

    @property
    def is_quiet(self) -> bool:
        """Whether nothing on it changes within a tenth of a second."""
        return not (self.pulses or self._moves) and self.vibration_kg <= 0.0

    def _contact(self, t: float) -> float:
        start, end, at, lasts = self._share
        if t >= at + lasts:
            self._moves = False
            if self._leaves:
                self.stands, self._leaves, self._share = None, False, (1.0, 1.0, 0.0, 0.0)
                return 0.0
            return end
        part = max((t - at) / lasts, 0.0)
        return start + (end - start) * part * part * (3.0 - 2.0 * part)
