"""What one service is told beforehand: limits, fluid, calibrations, priors.

Plain frozen records, already checked by whoever made them (``drainscale.recording.job_file``
reads them from TOML and holds the bounds). All uncertainties are standard ones (k = 1).
"""

from dataclasses import dataclass, field
from typing import Literal

LevelMethod = Literal["standpipe", "check-plug"]
FillVia = Literal["fill-plug", "check-plug"]


@dataclass(frozen=True, slots=True)
class ProcedureLimits:
    """The limits of the service information for this unit."""

    level_method: LevelMethod
    window_C: tuple[float, float]
    allowance_L: float  # at 20 °C, on top of what was drained
    close_flow_mL_per_min: float  # "thin stream": shut the plug below this
    drip_flow_mL_per_min: float  # "drip": a drain stage is over below this
    fill_via: FillVia = "fill-plug"
    approach_K: float = 3.0  # warn this far below the window


@dataclass(frozen=True, slots=True)
class FluidSheet:
    """The product sheet of the fluid; viscosities may be unknown (both or neither)."""

    density_kg_per_m3: float  # at density_C
    density_C: float
    density_u_kg_per_m3: float
    viscosity_40C_mm2_per_s: float | None = None
    viscosity_100C_mm2_per_s: float | None = None


@dataclass(frozen=True, slots=True)
class ScaleSettings:
    """A scale's calibration: conventional masses and the counts they gave."""

    capacity_kg: float
    rate_Hz: float
    calibration_kg: tuple[float, ...]  # rising
    calibration_counts: tuple[float, ...]  # strictly monotonic, either way
    calibration_u_kg: float  # of each weight
    repeatability_u_kg: float  # of one settled reading, linearity and creep included


@dataclass(frozen=True, slots=True)
class PanSensor:
    """Priors of the clamp-on thermocouple: how the skin follows the fluid."""

    surface_ratio: float  # (surface - air) / (fluid - air), steady state
    surface_ratio_u: float
    lag_s: float  # first-order time constant of wall and clamp
    lag_u_s: float
    sensor_u_C: float


@dataclass(frozen=True, slots=True)
class Container:
    """The drain container: what it holds and what is in it already."""

    capacity_L: float
    start_L: float = 0.0


@dataclass(frozen=True, slots=True)
class Job:
    """One service's job: as in its file, with the defaults filled in."""

    procedure: ProcedureLimits
    fluid: FluidSheet
    scale: ScaleSettings
    pan_sensor: PanSensor
    container: Container
    supply_scale: ScaleSettings | None = field(default=None)
