"""What stood on the platform and how its reading changed: the books of drain and refill.

Everything is booked as differences of trusted readings of one load. Between them hands, knocks
and pumps may do what they like: only a step that no flow explains and that stays is taken
out. Masses here are what the scale *shows* (conventional); buoyancy comes in the result.
"""

from dataclasses import dataclass, field

from drainscale.procedure.steps import Step

SAME_LOAD_KG = 0.030  # a container put back weighs what it weighed, plus what ran, within this


@dataclass(slots=True)
class Weighing:
    """One load from when it was tared to its latest (or last) trusted reading."""

    from_kg: float
    to_kg: float
    excluded_kg: float = 0.0  # steps that were no fluid: a pump set in, a tool laid down
    excluded_n: int = 0

    @property
    def gained_kg(self) -> float:
        """What the load gained in fluid (lost: negative), as shown by the scale."""
        return self.to_kg - self.from_kg - self.excluded_kg

    def exclude(self, kg: float) -> None:
        """Take a step out of the books."""
        self.excluded_kg += kg
        self.excluded_n += 1


@dataclass(slots=True)
class Unweighed:
    """Fluid that ran beside the scale: flow times time, with its standard uncertainty."""

    kg: float
    u_kg: float


@dataclass(slots=True)
class Stage:
    """One stage of draining, or one spill: a flow into one or more containers."""

    step: Step
    started_s: float
    flow_kg_per_s: float
    weighings: list[Weighing] = field(default_factory=list)
    unweighed: list[Unweighed] = field(default_factory=list)
    dripped_s: float | None = None
    ended_s: float | None = None
    _fluid: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0, 0.0])

    @property
    def gained_kg(self) -> float:
        """What ran out so far, as shown by the scale."""
        weighed = sum(one.gained_kg for one in self.weighings)
        return weighed + sum(one.kg for one in self.unweighed)

    def note_fluid(self, fluid_C: float, u_C: float, gained_kg: float) -> None:
        """Keep the fluid's temperature, weighted by what has run since the last time."""
        ran, kg, sum_C, sum_u = self._fluid
        weight = max(gained_kg - ran, 0.0) + 1e-9
        self._fluid = [
            max(gained_kg, ran),
            kg + weight,
            sum_C + weight * fluid_C,
            sum_u + weight * u_C,
        ]

    @property
    def fluid(self) -> tuple[float, float] | None:
        """Mean temperature of the fluid while it ran, °C, and its standard uncertainty, K."""
        _, kg, sum_C, sum_u = self._fluid
        return (sum_C / kg, sum_u / kg) if kg > 0.0 else None


@dataclass(slots=True)
class Jug:
    """One supply jug or bottle on the scale."""

    weighing: Weighing
    has_lost: bool = False  # before that, its reading is still its tare

    @property
    def lost_kg(self) -> float:
        """Fluid that left it."""
        return -self.weighing.gained_kg
