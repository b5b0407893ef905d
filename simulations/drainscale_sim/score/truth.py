"""The known truth of a synthetic recording, as its ``NAME.truth.json`` tells it.

Times are seconds after the recording's base time, masses are true masses. Only what is judged
is read; the drawn parameters behind a recording stay in the file, so that no answer can lean on
them.
"""

import math
from pathlib import Path

import msgspec


class Stage(msgspec.Struct, frozen=True):
    """One drain stage: what left the unit, and when."""

    step: str
    mass_kg: float
    started_s: float
    ended_s: float
    dripped_s: float | None


class Drained(msgspec.Struct, frozen=True):
    """All that left the unit through the drain."""

    mass_kg: float
    volume_L: float
    volume_20C_L: float
    stages: list[Stage]


class Refill(msgspec.Struct, frozen=True):
    """What was due to go in, and what did."""

    target_volume_20C_L: float
    added_mass_kg: float
    added_volume_20C_L: float
    pump_start_s: float
    pump_end_s: float
    reached_s: float | None


class Spill(msgspec.Struct, frozen=True):
    """What ran out at the level check."""

    mass_kg: float
    volume_L: float


class Net(msgspec.Struct, frozen=True):
    """Added minus spilled minus drained."""

    volume_20C_L: float


class Times(msgspec.Struct, frozen=True):
    """When the true fluid and the true flow crossed the limits."""

    window_opens_s: float
    window_closes_s: float
    plug_opened_s: float
    plug_shut_s: float
    spill_below_close_limit_s: float | None
    spill_below_close_in_recording: bool
    container_full_s: float | None
    engine_on_s: float


class Limits(msgspec.Struct, frozen=True):
    """The limits of the job that the recording was made for."""

    window_C: tuple[float, float]
    close_flow_mL_per_min: float
    drip_flow_mL_per_min: float
    approach_K: float = 3.0


class Disturbance(msgspec.Struct, frozen=True, array_like=True):
    """A stretch in which the reading was shaken; ``shows``: it stands out of the noise."""

    start_s: float
    end_s: float
    kind: str
    shows: bool = True


class Fault(msgspec.Struct, frozen=True):
    """A stretch in which a sensor failed."""

    sensor: str
    kind: str
    start_s: float
    end_s: float


class Grid(msgspec.Struct, frozen=True):
    """Truth once a second, from the base time on."""

    dt_s: float
    fluid_C: list[float | None]
    flow_mL_per_min: list[float | None]
    excess_mL: list[float | None]


class Truth(msgspec.Struct, frozen=True):
    """All that is known of one recording."""

    name: str
    tags: list[str]
    rate_Hz: float
    duration_s: float
    outcome: str
    drained: Drained
    refill: Refill
    spill: Spill
    net: Net
    times: Times
    steps: dict[str, float]
    marks: list[tuple[float, str]]
    placed_s: list[float]
    lifted_s: list[float]
    disturbances: list[Disturbance]
    faults: list[Fault]
    limits: Limits
    grid: Grid

    @property
    def is_fully_marked(self) -> bool:
        """Tell whether a person marked every step."""
        return "marked" in self.tags

    @property
    def has_level_mark(self) -> bool:
        """Tell whether the opening of the plug was marked."""
        return any(step == "level" for _, step in self.marks)

    @property
    def is_near_border(self) -> bool:
        """Tell whether the spill ended within 20 s of the window's closing."""
        thin_s = self.times.spill_below_close_limit_s
        return thin_s is not None and abs(thin_s - self.times.window_closes_s) <= 20.0

    @property
    def overruns(self) -> bool:
        """Tell whether the window closed before the spill was thin."""
        thin_s = self.times.spill_below_close_limit_s
        return thin_s is not None and thin_s > self.times.window_closes_s

    @property
    def due_verdict(self) -> str:
        """Name the verdict that is due from what can be seen.

        An open plug that gives nothing cannot be seen without a ``level`` mark.
        """
        if self.outcome == "no-spill" and not self.has_level_mark:
            return "not-measured"
        return self.outcome

    def fluid_C(self, t: float) -> float:
        """Return the true fluid temperature at ``t``, °C."""
        return interpolate(self.grid.fluid_C, t, self.grid.dt_s)

    def flow_mL_per_min(self, t: float) -> float:
        """Return the true mean flow out of the unit at ``t``, mL/min."""
        return interpolate(self.grid.flow_mL_per_min, t, self.grid.dt_s)

    def excess_mL(self, t: float) -> float:
        """Return the volume above the rim at ``t``, mL; NaN while the plug is shut."""
        return interpolate(self.grid.excess_mL, t, self.grid.dt_s)


def interpolate(grid: list[float | None], t: float, dt_s: float) -> float:
    """Read a grid between its points; a hole beside a value takes that value.

    Args:
        grid: Values at 0, ``dt_s``, 2 ``dt_s``, ...; ``None`` where there is none.
        t: Time, s; before the first and after the last point the ends hold.
        dt_s: Spacing, s.

    Returns:
        The value, NaN where both neighbours are holes.
    """
    place = min(max(t / dt_s, 0.0), len(grid) - 1.0)
    left = int(place)
    a, b = grid[left], grid[min(left + 1, len(grid) - 1)]
    if a is None:
        return math.nan if b is None else b
    share = place - left
    return a if b is None else a * (1.0 - share) + b * share


def read_truth(path: Path) -> Truth:
    """Read one ``NAME.truth.json``.

    Raises:
        ValueError: The file is not a truth file; names file and place.
        OSError: It cannot be read.
    """
    try:
        truth = msgspec.json.decode(path.read_bytes(), type=Truth)
    except msgspec.DecodeError as error:
        raise ValueError(f"{path.name}: {error}") from error
    if not truth.grid.fluid_C:
        raise ValueError(f"{path.name}: its grid is empty")
    if path.name != f"{truth.name}.truth.json":
        raise ValueError(f"{path.name}: is the truth of {truth.name!r}")
    return truth
