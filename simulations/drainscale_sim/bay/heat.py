"""How the fluid warms and cools, and how the clamp on the pan follows it."""

from dataclasses import dataclass, field
from math import exp

OIL_J_PER_KG_K = 2000.0  # handbook value of mineral oil near 40 °C, 1.9 to 2.1 kJ/(kg K)


@dataclass(frozen=True)
class Kick:
    """A stretch with another cooling: a fan that starts, a thermostat that opens, a door.

    Args:
        after_s: Its beginning, s after the engine start.
        lasts_s: How long.
        warming: Factor on what the engine gives meanwhile.
    """

    after_s: float
    lasts_s: float
    warming: float


@dataclass(frozen=True)
class HeatSetup:
    """What the warm-up depends on.

    Args:
        air_C: Air of the bay.
        start_C: Fluid when the service begins.
        engine_C: Where the engine's water ends up.
        engine_tau_s: How fast it gets there; 0: it is there at once.
        fluid_tau_s: How fast the fluid follows the engine.
        loss_tau_s: How fast it would fall to the air by itself; 0: it loses nothing.
        churn_K_per_s: What stirring alone gives while the engine runs.
        case_J_per_K: Heat capacity of the case and the wheels in it.
        under_car_K: How much warmer the air under the car gets while the engine runs.
        kicks: Bends of the warm-up.
    """

    air_C: float
    start_C: float
    engine_C: float = 95.0
    engine_tau_s: float = 500.0
    fluid_tau_s: float = 900.0
    loss_tau_s: float = 2500.0
    churn_K_per_s: float = 0.015
    case_J_per_K: float = 9000.0
    under_car_K: float = 1.5
    kicks: tuple[Kick, ...] = ()


@dataclass
class Heat:
    """Temperatures of engine, fluid and the air around the pan."""

    setup: HeatSetup
    fluid_C: float = field(init=False)
    engine_C: float = field(init=False)
    near_air_C: float = field(init=False)
    runs_s: float = 0.0  # since the last engine start

    def __post_init__(self) -> None:
        self.fluid_C = self.engine_C = self.setup.start_C
        self.near_air_C = self.setup.air_C

    def step(self, dt: float, is_running: bool) -> None:
        """Go on by `dt`, in s; the exponential of each link is exact for a constant other side."""
        s = self.setup
        self.runs_s = self.runs_s + dt if is_running else 0.0
        engine_to, tau = (s.engine_C, s.engine_tau_s) if is_running else (s.air_C, 9000.0)
        self.engine_C = _towards(self.engine_C, engine_to, dt, tau)
        air_to = s.air_C + (s.under_car_K if is_running else 0.0)
        self.near_air_C = _towards(self.near_air_C, air_to, dt, 600.0)
        pull = self._kick() / s.fluid_tau_s if is_running else 0.0
        loss = 1.0 / s.loss_tau_s if s.loss_tau_s > 0.0 else 0.0
        churn = s.churn_K_per_s if is_running else 0.0
        rate = pull + loss
        if rate <= 0.0:
            self.fluid_C += churn * dt
            return
        end = (pull * self.engine_C + loss * self.near_air_C + churn) / rate
        self.fluid_C = end + (self.fluid_C - end) * exp(-rate * dt)

    def _kick(self) -> float:
        for kick in self.setup.kicks:
            if kick.after_s <= self.runs_s < kick.after_s + kick.lasts_s:
                return kick.warming
        return 1.0

    def mix(self, added_kg: float, added_C: float, there_kg: float) -> None:
        """Mix new fluid with what is there and the case around it."""
        there = self.setup.case_J_per_K + there_kg * OIL_J_PER_KG_K
        new = added_kg * OIL_J_PER_KG_K
        self.fluid_C += (added_C - self.fluid_C) * new / (there + new)


@dataclass
class Clamp:
    """The thermocouple on the pan's skin.

    Args:
        ratio: (skin - air)/(fluid - air), steady.
        lag_s: First-order time constant of wall and clamp.
        skin_C: Where it starts.
    """

    ratio: float
    lag_s: float
    skin_C: float

    def step(self, dt: float, fluid_C: float, air_C: float) -> None:
        """Go on by `dt`, in s."""
        self.skin_C = _towards(self.skin_C, air_C + self.ratio * (fluid_C - air_C), dt, self.lag_s)


def _towards(now: float, end: float, dt: float, tau_s: float) -> float:
    return end if tau_s <= 0.0 else end + (now - end) * exp(-dt / tau_s)
