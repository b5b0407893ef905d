"""What the technician goes by: the kit's cues, or, without a kit, his own habit."""

from dataclasses import dataclass, field
from random import Random
from typing import Protocol

from drainscale_sim.bay.bay import Bay
from drainscale_sim.bay.setup import Setup
from drainscale_sim.technician.perception import Ears, Eyes

KNOWN_AFTER_S = 0.6  # a cue that is told apart for so long is believed


class Guide(Protocol):
    """Says a cue by its name in the vocabulary, or None while there is none."""

    is_kit: bool

    def see(self, t: float, lit: frozenset[str]) -> None:
        """Lamps as they are from `t` on."""
        ...

    def hear(self, t: float, pitch_Hz: float | None) -> None:
        """The sounder as it is from `t` on."""
        ...

    def cue(self, t: float, bay: Bay) -> str | None:
        """What is to be done, at `t`."""
        ...

    def answer(self, t: float, since_s: float) -> bool | None:
        """What a press at `since_s` was answered: taken, nothing was asked, or no answer yet."""
        ...


@dataclass
class CueGuide:
    """The kit: what its lamps show, once he is sure, and what it answers to a press."""

    is_kit: bool = True
    eyes: Eyes = field(default_factory=Eyes)
    ears: Ears = field(default_factory=Ears)
    _seen: str | None = None
    _since_s: float = 0.0

    def see(self, t: float, lit: frozenset[str]) -> None:
        """Take in the lamps."""
        self.eyes.see(t, lit)

    def hear(self, t: float, pitch_Hz: float | None) -> None:
        """Take in the sounder."""
        self.ears.hear(t, pitch_Hz)

    def answer(self, t: float, since_s: float) -> bool | None:
        """What the sounder said to a press."""
        return self.ears.answer(t, since_s)

    def cue(self, t: float, bay: Bay) -> str | None:  # noqa: ARG002  (habit needs the bay)
        """What the lamps say, if they have said so long enough."""
        told = self.eyes.cue(t)
        if told != self._seen:
            self._seen, self._since_s = told, t
        return told if t - self._since_s >= KNOWN_AFTER_S else None


@dataclass
class HabitGuide:
    """A person without the kit, who has a thermometer in the fluid and waits as he is used to.

    It says the same words as the kit would, from what he sees and from habit; so the same
    technician serves both.
    """

    setup: Setup
    is_kit: bool = False
    _stage: int = 0
    _go_on_s: float = 0.0
    _thin_s: float | None = None

    def __post_init__(self) -> None:
        self.rng = Random(f"{self.setup.name} {self.setup.seed} habit")
        work, limits = self.setup.work, self.setup.limits
        low_C, high_C = limits.window_C
        self.opens_C = low_C + self.rng.uniform(*work.habit_opens_at) * (high_C - low_C)
        self.extra_L = self.rng.uniform(*work.habit_extra_L)
        self.stays_s = self.rng.uniform(*work.habit_stays_s)
        self.nothing_s = self.rng.uniform(90.0, 150.0)  # before he gives up on a dry hole
        self.too_hot_C = high_C + self.rng.uniform(0.3, 2.0)

    def see(self, t: float, lit: frozenset[str]) -> None:
        """There is nothing to see."""

    def hear(self, t: float, pitch_Hz: float | None) -> None:
        """There is nothing to hear."""

    def answer(self, t: float, since_s: float) -> bool | None:  # noqa: ARG002  nobody answers
        """There is nobody to answer."""
        return None

    def cue(self, t: float, bay: Bay) -> str | None:
        """What he thinks is due."""
        match bay.ledger.step:
            case "drain" | "drain-pan":
                return self._drain(t, bay)
            case "refill":
                return "go-on" if bay.ledger.added_kg >= self.target_kg(bay) else "add"
            case "warm" | "circulate":
                return "open" if bay.vehicle.heat.fluid_C >= self.opens_C else "wait"
            case "level":
                return self._level(t, bay)
        return "go-on"

    def target_kg(self, bay: Bay) -> float:
        """What he wants to have put in."""
        fluid = self.setup.fluid
        target_L = fluid.volume_20C_L(bay.ledger.drained_kg) + self.setup.limits.allowance_L
        return max(target_L + self.extra_L, 0.0) * fluid.density_kg_per_m3(20.0) / 1000.0

    def _drain(self, t: float, bay: Bay) -> str:
        if len(bay.ledger.stages) != self._stage:
            self._stage = len(bay.ledger.stages)
            self._go_on_s = t + self.rng.uniform(*self.setup.work.habit_patience_s)
        return "go-on" if t >= self._go_on_s else "wait"

    def _level(self, t: float, bay: Bay) -> str:
        vehicle = bay.vehicle
        flow = vehicle.flow_kg_per_s / vehicle.density_kg_per_m3 * 60.0e6
        if flow >= self.setup.limits.close_flow_mL_per_min:
            self._thin_s = None
        elif self._thin_s is None:
            self._thin_s = t
        has_run = bay.ledger.spills[-1].volume_m3 > 10e-6
        stays_s = self.stays_s if has_run else self.nothing_s
        is_thin = self._thin_s is not None and t - self._thin_s >= stays_s
        is_hot = vehicle.heat.fluid_C >= self.too_hot_C
        is_in = vehicle.heat.fluid_C >= self.setup.limits.window_C[0]
        return "shut" if (is_thin and is_in) or is_hot else "wait"
