"""Parts of the fluid's temperature and of what becomes of masses in the end."""

from dataclasses import replace
from math import sqrt
from typing import Any

from drainscale.core import result, story
from drainscale.core.result import Result
from drainscale.core.scale_channel import ScaleChannel
from drainscale.estimation import temperature, temperature_air, temperature_filter
from drainscale.estimation import temperature_priors as prior
from drainscale.estimation.temperature import FluidTemperature
from drainscale.estimation.temperature_dynamics import FLUID, heat_rate_K_per_s
from drainscale.estimation.temperature_filter import WarmUpFilter
from drainscale.estimation.temperature_forecast import PathPoint
from drainscale.estimation.temperature_start import StartSearch
from drainscale.quantities import result_quantities
from drainscale.quantities.density import FluidDensity
from drainscale.quantities.job import PanSensor, ScaleSettings
from drainscale_sim.ablation.part import Part, choice, part
from drainscale_sim.ablation.stand_ins import constant

_tracked = vars(temperature)["WarmUpTracker"]


def _skin_is_fluid(sensor: PanSensor) -> Any:
    return _tracked(replace(sensor, surface_ratio=1.0))


def _without_lag(sensor: PanSensor) -> Any:
    return _tracked(replace(sensor, lag_s=1.0, lag_u_s=0.01))


STRAIGHT_RATE_U = 0.25


def _straight_path(t: float, x: Any, p: Any, air_C: float, until_C: float) -> list[PathPoint]:
    """The fluid goes on at its present rate, which is known to a quarter."""
    rate = max(heat_rate_K_per_s(x, air_C), 1e-4)
    u0 = sqrt(max(p[FLUID][FLUID], 1e-6))
    path = []
    for ahead in range(0, 3601, 15):
        rise = rate * ahead
        u = sqrt(u0**2 + (STRAIGHT_RATE_U * rise) ** 2)
        path.append(PathPoint(t + ahead, x[FLUID] + rise, u))
        if x[FLUID] + rise - 2.5 * u > until_C:
            break
    return path


TEMPERATURE = (
    part(
        "skin-ratio", "the skin lies between fluid and air", "the skin is as warm as the fluid",
        (temperature, "WarmUpTracker", _skin_is_fluid),
    ),
    part(
        "skin-lag", "the skin follows late", "at once",
        (temperature, "WarmUpTracker", _without_lag),
    ),
    part(
        "soak", "vehicle and shop at one temperature before the start", "not used",
        (WarmUpFilter, "soak", constant(None)),
    ),
    part(
        "reference", "a reference reading is used", "ignored",
        (FluidTemperature, "reference", constant(None)),
    ),
    part(
        "start-search", "the likeliest start is looked for", "the told start, or the rise",
        (StartSearch, "likeliest", constant(None)),
    ),
    choice(
        "straight-path", "the warm-up curves (heat balance)", "straight on at the present rate",
        (temperature, "heating_path", _straight_path),
    ),
    part(
        "kick", "a kick of the heating shows, and is let through", "slow walk alone",
        (WarmUpFilter, "_watch_for_kick", constant(None)),
    ),
    part(
        "strength-walk", "the heating strength walks", "it is constant between kicks",
        (prior, "STRENGTH_WALK_PER_SQRT_S", 0.0),
    ),
    part(
        "considered", "ratio, lag and sensor are not learnt while idle", "learnt as well",
        (temperature_filter, "_CONSTANTS", ()),
    ),
    part(
        "doubt", "a pan reading beyond 4 sigma is doubted", "taken at face value",
        (temperature_filter, "_DOUBT_SIGMA", 1e6),
    ),
    part(
        "stir", "fluid that mixes in before the start is let go", "slow walk alone",
        (prior, "STIR_U_K", 0.0),
    ),
    part(
        "pod", "the cold junction's own warming is halved", "taken for the air's",
        (temperature_air, "_SHARE", 1.0),
    ),
    part(
        "strength-pace", "a slow vehicle is slow in both stages", "independent",
        (prior, "STRENGTH_ENGINE_CORRELATION", 0.0),
    ),
)  # fmt: skip

_net = vars(Result)["_net"]
_make_channel = ScaleChannel.__init__


def _net_of_strangers(self: Result) -> dict[str, Any]:
    """Net with the uncertainties of its amounts added as if they had nothing in common."""
    told: dict[str, Any] = _net(self)
    amounts = [one for one in (self.drained, self.refill, self.spill) if one is not None]
    if told["U_volume_L"] is not None:
        told["U_volume_L"] = sqrt(sum(one.volume_20C_L.U**2 for one in amounts))
    return told


def _ends_only(self: ScaleChannel, settings: ScaleSettings, t: float) -> None:
    kg, counts = settings.calibration_kg, settings.calibration_counts
    ends = replace(
        settings, calibration_kg=(kg[0], kg[-1]), calibration_counts=(counts[0], counts[-1])
    )
    _make_channel(self, ends, t)


def _sheet_density(self: FluidDensity, fluid_C: float) -> float:
    del fluid_C
    return self.sheet.density_kg_per_m3


def _cancels_air(fluid_kg_per_m3: float, *, air_kg_per_m3: float = 1.2) -> float:
    """The factor that leaves the indication as it is, once the air has been divided out."""
    return 1.0 if air_kg_per_m3 else 1.0 - 1.2 / fluid_kg_per_m3


QUANTITIES = (
    part(
        "buoyancy", "air buoyancy of the oil", "not corrected",
        (story, "buoyancy_factor", _cancels_air),
        (result_quantities, "buoyancy_factor", _cancels_air),
    ),
    part(
        "expansion-oil", "the oil's density falls with temperature", "the sheet's, always",
        (FluidDensity, "density_kg_per_m3", _sheet_density),
    ),
    part(
        "fluid-at-stage", "volume at the temperature inferred while it ran", "20 ± 10 °C",
        (result, "stage_fluid", constant((20.0, 10.0))),
    ),
    part(
        "points", "every calibration point counts", "straight from the first to the last",
        (ScaleChannel, "__init__", _ends_only),
    ),
    part(
        "common", "common errors cancel in net", "taken as independent",
        (Result, "_net", _net_of_strangers),
    ),
)  # fmt: skip

PARTS: tuple[Part, ...] = TEMPERATURE + QUANTITIES
