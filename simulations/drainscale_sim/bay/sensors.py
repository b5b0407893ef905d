"""What the sensors make of the world: errors of the load cell, its converter and the clamp."""

from dataclasses import dataclass
from math import exp, sqrt
from typing import Literal

from drainscale_sim.bay.noise import normal_at, uniform_at
from drainscale_sim.bench_world import PanFault, ScaleFault


@dataclass(frozen=True)
class ScaleSetup:
    """One load cell with its converter.

    Args:
        capacity_kg: Of the cell.
        rate_Hz: Conversions a second.
        counts_per_kg: Slope near zero.
        offset_counts: Reading of the empty platform.
        bow: Departure from a line, relative to the load, at no load; nil at capacity.
        creep: Share of a load that comes late.
        creep_tau_s: How late.
        drift_kg: Standard deviation of the zero's wandering.
        drift_tau_s: How long it remembers.
        noise_kg: Standard deviation of one conversion.
        bit_errors: Share of conversions with one wrong bit.
    """

    capacity_kg: float = 20.0
    rate_Hz: float = 10.0
    counts_per_kg: float = 210_000.0
    offset_counts: float = 80_000.0
    bow: float = 5e-5
    creep: float = 7e-5
    creep_tau_s: float = 150.0
    drift_kg: float = 0.0004
    drift_tau_s: float = 200.0
    noise_kg: float = 0.00015
    bit_errors: float = 2e-6

    def ideal_counts(self, load_kg: float) -> float:
        """Counts of a load that stands since long, without noise."""
        bowed = load_kg * (1.0 + self.bow * (1.0 - load_kg / self.capacity_kg))
        return self.offset_counts + self.counts_per_kg * bowed


_DRIFT_EVERY_S = 0.5


@dataclass
class ScaleSensor:
    """A load cell's state: what the converter's filter, creep and drift remember."""

    setup: ScaleSetup
    seed: int
    seen_kg: float = 0.0  # behind the converter's filter
    late_kg: float = 0.0
    drift_kg: float = 0.0
    _drift_due_s: float = 0.0

    def step(self, t: float, load_kg: float, dt: float) -> None:
        """Go on by `dt` to `t`, with this load meanwhile."""
        s = self.setup
        self.seen_kg += (load_kg - self.seen_kg) * (1.0 - exp(-dt * s.rate_Hz / 0.6))
        self.late_kg += (s.creep * load_kg - self.late_kg) * min(dt / s.creep_tau_s, 1.0)
        if t >= self._drift_due_s:
            keep = exp(-_DRIFT_EVERY_S / s.drift_tau_s)
            kick = s.drift_kg * sqrt(1.0 - keep * keep)
            self.drift_kg = keep * self.drift_kg + kick * normal_at(self.seed + 1, t)
            self._drift_due_s = t + _DRIFT_EVERY_S

    def counts(self, t: float) -> float:
        """What an ideal converter reads at `t`, a wrong bit among many words included."""
        s = self.setup
        noise = s.noise_kg * normal_at(self.seed, t)
        counts = s.ideal_counts(self.seen_kg + self.late_kg + self.drift_kg + noise)
        if uniform_at(self.seed + 2, t) < s.bit_errors:
            counts += 1 << (12 + int(uniform_at(self.seed + 3, t) * 11.0))
        return counts


@dataclass(frozen=True)
class ClampSetup:
    """The clamp-on thermocouple.

    Args:
        ratio: (skin - air)/(fluid - air), steady.
        lag_s: First-order time constant.
        bias_K: Error of thermocouple and converter.
        noise_K: Standard deviation of one reading.
        board_K: How much warmer than the air the converter is.
    """

    ratio: float = 0.9
    lag_s: float = 28.0
    bias_K: float = 0.3
    noise_K: float = 0.1
    board_K: float = 0.2


ScaleName = Literal["drain", "supply"]


@dataclass(frozen=True)
class Faults:
    """When which sensor fails: spans of (start, end, kind), in s."""

    drain: tuple[tuple[float, float, ScaleFault], ...] = ()
    supply: tuple[tuple[float, float, ScaleFault], ...] = ()
    pan: tuple[tuple[float, float, PanFault], ...] = ()

    def of_scale(self, scale: ScaleName, t: float) -> ScaleFault | None:
        """How a scale fails at `t`."""
        spans = self.drain if scale == "drain" else self.supply
        return next((kind for start, end, kind in spans if start <= t < end), None)

    def of_pan(self, t: float) -> PanFault | None:
        """How the thermocouple fails at `t`."""
        return next((kind for start, end, kind in self.pan if start <= t < end), None)
