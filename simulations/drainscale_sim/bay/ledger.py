"""What truly happened, kept beside the world and never shown to the kit."""

from dataclasses import dataclass, field
from typing import Literal

DisturbanceKind = Literal["knock", "touch", "vibration", "pump-in", "pump-out"]


@dataclass
class StageTruth:
    """What ran out in one stage of the drain, or at one opening of the level plug."""

    step: str
    started_s: float
    ended_s: float | None = None
    mass_kg: float = 0.0
    volume_m3: float = 0.0
    fluid_C: float = 0.0  # when it began

    def take(self, mass_kg: float, density_kg_per_m3: float) -> None:
        """Count what left the unit."""
        self.mass_kg += mass_kg
        self.volume_m3 += mass_kg / density_kg_per_m3


@dataclass
class JugTruth:
    """One jug's visit on the platform; times in s."""

    on: float
    pump_in: float | None = None
    first: float | None = None
    last: float | None = None
    pump_out: float | None = None
    off: float | None = None


@dataclass
class DisturbanceTruth:
    """A stretch in which somebody shook the platform."""

    start_s: float
    end_s: float
    kind: DisturbanceKind
    peak_kg: float = 0.0  # behind the converter's filter


@dataclass
class Grid:
    """Truth once a second, second by second from 0."""

    fluid_C: list[float] = field(default_factory=list)
    flow_mL_per_min: list[float] = field(default_factory=list)
    excess_mL: list[float | None] = field(default_factory=list)
    volume_m3: float = 0.0  # since the last line

    def flow(self, volume_m3: float) -> None:
        """Count what ran over the lip."""
        self.volume_m3 += volume_m3

    def line(self, fluid_C: float, excess_mL: float | None) -> None:
        """Close a second: what ran in it stands at its end, temperature and excess as now."""
        self.fluid_C.append(fluid_C)
        self.flow_mL_per_min.append(self.volume_m3 * 60.0e6)
        self.excess_mL.append(excess_mL)
        self.volume_m3 = 0.0

    @property
    def seconds(self) -> int:
        """How many seconds it holds."""
        return len(self.fluid_C)

    def cut(self, seconds: int) -> None:
        """Forget what came after; for a world that is set back."""
        for column in (self.fluid_C, self.flow_mL_per_min, self.excess_mL):
            del column[seconds:]


@dataclass
class Ledger:
    """All that truth files are made of, but for the grid."""

    steps: list[tuple[float, str]] = field(default_factory=list)
    stages: list[StageTruth] = field(default_factory=list)  # of the drain
    spills: list[StageTruth] = field(default_factory=list)  # one an opening of the plug
    # out of the check hole while it was filled
    overflow: StageTruth = field(default_factory=lambda: StageTruth("refill", 0.0))
    jugs: list[JugTruth] = field(default_factory=list)
    placed_s: list[float] = field(default_factory=list)
    lifted_s: list[float] = field(default_factory=list)
    disturbances: list[DisturbanceTruth] = field(default_factory=list)
    presses_s: list[float] = field(default_factory=list)
    added_kg: float = 0.0
    beside_kg: float = 0.0  # fell beside the container
    beside_in_drain_kg: float = 0.0
    reached_s: float | None = None
    container_full_s: float | None = None
    engine_on_s: float | None = None
    engine_off_s: float | None = None

    def begin(self, t: float, step: str) -> None:
        """A step truly begins."""
        self.steps.append((t, step))

    @property
    def step(self) -> str:
        """The step that is going on."""
        return self.steps[-1][1] if self.steps else "prepare"

    @property
    def drained_kg(self) -> float:
        """All that left through the drain."""
        return sum(stage.mass_kg for stage in self.stages)

    @property
    def spilled_kg(self) -> float:
        """All that ran out at the level check, overflow while filling included."""
        return sum(spill.mass_kg for spill in (*self.spills, self.overflow))

    @property
    def spilled_m3(self) -> float:
        """The same as a volume, each part at the temperature at which it ran out."""
        return sum(spill.volume_m3 for spill in (*self.spills, self.overflow))
