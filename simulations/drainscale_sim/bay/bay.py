"""The bay: vehicle, container, jugs, platforms and sensors, stepped together."""

from dataclasses import dataclass, field
from math import pi, sin
from random import Random

from drainscale_sim.bay.heat import Clamp, Heat
from drainscale_sim.bay.ledger import (
    DisturbanceKind,
    DisturbanceTruth,
    Grid,
    Ledger,
)
from drainscale_sim.bay.outflow import GRAVITY_M_PER_S2
from drainscale_sim.bay.platform import Platform, Pulse, PulseKind, Vessel
from drainscale_sim.bay.sensors import ScaleSensor
from drainscale_sim.bay.setup import Setup
from drainscale_sim.bay.stream import FallingStream
from drainscale_sim.bay.vehicle import Vehicle

STROKES_PER_S = 0.6
NOTHING_LEFT_KG = 0.02  # what a pump cannot get out of a jug


@dataclass
class Bay:
    """All that has mass and warmth; `Hands` acts on it."""

    setup: Setup
    t: float = 0.0
    ledger: Ledger = field(default_factory=Ledger)
    fitful: list[Pulse] = field(default_factory=list)  # knocks still to come, soonest first
    jug: Vessel | None = None
    is_pumping: bool = False
    is_under: bool = False  # the container stands, or is held, under the outlet
    floor_kg: float = 0.0
    foot_until_s: float = 0.0
    strokes: DisturbanceTruth | None = None  # of the pump, while it goes
    left_open: Vehicle | None = None  # the unit as it was just before the level plug was shut

    def __post_init__(self) -> None:
        s = self.setup
        self.rng = Random(f"{s.name} {s.seed} bay")
        self.vehicle = Vehicle(s.vehicle, s.fluid, Heat(s.heat))
        self.stream = FallingStream(s.bench.fall_m)
        self.container = Vessel("container", s.bench.container_tare_kg)
        self.container.oil_kg = s.bench.start_L * s.fluid.density_kg_per_m3(s.heat.air_C) / 1000.0
        self.platform = Platform(s.seed * 8 + 1, s.bench.air_kg_per_m3)
        self.scale = ScaleSensor(s.scale, s.seed * 8 + 2)
        self.shaken = ScaleSensor(s.scale, 0)  # what of it shaking makes, behind the same filter
        self.supply = self.supply_scale = None
        if s.bench.has_supply_scale:
            self.supply = Platform(s.seed * 8 + 5, s.bench.air_kg_per_m3)
            self.supply_scale = ScaleSensor(s.scale, s.seed * 8 + 6)
        air = s.heat.air_C
        self.clamp = Clamp(
            s.clamp.ratio, s.clamp.lag_s, air + s.clamp.ratio * (s.heat.start_C - air)
        )
        self._fill_fitful()

    def _fill_fitful(self) -> None:
        bench, t = self.setup.bench, 60.0
        while bench.knocks_per_min > 0.0 and t < 4.0 * 3600.0:
            t += self.rng.expovariate(bench.knocks_per_min / 60.0)
            kind: PulseKind = "knock" if self.rng.random() < 0.5 else "touch"
            size = self.rng.uniform(*bench.knock_kg)
            lasts = self.rng.uniform(0.6, 3.0) if kind == "touch" else 1.0
            if kind == "touch":  # he leans on it more often than he lifts it
                size *= 0.7 if self.rng.random() < 0.65 else -0.4
            self.fitful.append(Pulse(kind, t, lasts, size))

    @property
    def target_kg(self) -> float:
        """True drained mass and the allowance, which is a volume at 20 °C."""
        allowance_m3 = self.setup.limits.allowance_L / 1000.0
        return self.ledger.drained_kg + allowance_m3 * self.setup.fluid.density_kg_per_m3(20.0)

    @property
    def jug_platform(self) -> Platform:
        """Where the supply jug stands."""
        return self.supply or self.platform

    @property
    def is_quiet(self) -> bool:
        """Whether a tenth of a second is a fine enough step."""
        return not (
            self.vehicle.is_open
            or self.is_pumping
            or self.vehicle.engine_on
            or self.stream.in_flight_kg > 0.0
            or (self.fitful and self.fitful[0].start_s < self.t + 0.1)
            or not self.platform.is_quiet
            or not self.jug_platform.is_quiet
        )

    def step(self, t: float, dt: float, grid: Grid) -> None:
        """Go on by `dt` to `t`, in s."""
        self.t = t
        falls_kg, speed = self.vehicle.step(dt)
        grid.flow(self.vehicle.flow_kg_per_s * dt / self.vehicle.density_kg_per_m3)
        if falls_kg > 0.0:
            self.book(falls_kg)
            self.stream.leave(t, falls_kg, speed)
        self._land(t, dt)
        if self.is_pumping:
            self._pump(t, dt)
        self._knock(t)
        self._weigh(t, dt)
        heat = self.vehicle.heat
        self.clamp.step(dt, heat.fluid_C, heat.near_air_C)

    def book(self, mass_kg: float) -> None:
        """Book what left the unit to the stage that is open."""
        ledger, density = self.ledger, self.vehicle.density_kg_per_m3
        if ledger.spills and ledger.spills[-1].ended_s is None:
            ledger.spills[-1].take(mass_kg, density)
        elif ledger.stages and ledger.stages[-1].ended_s is None:
            ledger.stages[-1].take(mass_kg, density)
        else:
            ledger.overflow.take(mass_kg, density)

    def _land(self, t: float, dt: float) -> None:
        landed_kg, momentum = self.stream.land(t)
        self.platform.push_kg = 0.0
        if landed_kg <= 0.0:
            return
        if not self.is_under:
            self.floor_kg += landed_kg
            self.ledger.beside_kg += landed_kg
            if self.ledger.stages and self.ledger.stages[-1].ended_s is None:
                self.ledger.beside_in_drain_kg += landed_kg
            return
        self.container.oil_kg += landed_kg
        if self.platform.stands is self.container:
            self.platform.push_kg = momentum / dt / GRAVITY_M_PER_S2
        full_kg = 0.9 * self.setup.bench.container_L * self.vehicle.density_kg_per_m3 / 1000.0
        if self.ledger.container_full_s is None and self.container.oil_kg >= full_kg:
            self.ledger.container_full_s = t

    def _pump(self, t: float, dt: float) -> None:
        bench, jug = self.setup.bench, self.jug
        if jug is None or jug.oil_kg <= NOTHING_LEFT_KG:
            self.is_pumping = False
            return
        stroke = sin(pi * STROKES_PER_S * t) ** 2
        rho = self.setup.fluid.density_kg_per_m3(self.setup.added_C)
        gives_kg = min(2.0 * stroke * bench.pump_mL_per_s * dt * rho * 1e-6, jug.oil_kg)
        jug.oil_kg -= gives_kg
        self.vehicle.add(gives_kg, self.setup.added_C)
        self.ledger.added_kg += gives_kg
        if self.ledger.reached_s is None and self.ledger.added_kg >= self.target_kg:
            self.ledger.reached_s = t
        shake = bench.pump_shake_kg * sin(2.0 * pi * STROKES_PER_S * t)
        self.jug_platform.push_kg += shake
        self.ledger.jugs[-1].last = t
        if self.strokes is not None:
            self.strokes.end_s = t

    def _knock(self, t: float) -> None:
        while self.fitful and self.fitful[0].start_s <= t:
            pulse = self.fitful.pop(0)
            if self.platform.stands is not None:
                self.press(pulse.kind, pulse.size_kg, pulse.lasts_s)

    def press(self, kind: PulseKind, size_kg: float, lasts_s: float) -> None:
        """Let somebody press on, or knock against, the drain platform; it stands in the truth."""
        self.platform.press(Pulse(kind, self.t, lasts_s, size_kg))
        told: DisturbanceKind = "vibration" if kind == "shake" else "knock"
        told = "touch" if kind == "touch" else told
        self.tell(told, self.t + lasts_s)

    def tell(self, kind: DisturbanceKind, end_s: float) -> DisturbanceTruth:
        """Write a disturbance into the truth; its peak is filled in as it comes."""
        told = DisturbanceTruth(self.t, end_s, kind)
        self.ledger.disturbances.append(told)
        return told

    def _weigh(self, t: float, dt: float) -> None:
        density = self.vehicle.density_kg_per_m3
        idle = self.setup.bench.vibration_kg if self.vehicle.engine_on else 0.0
        self.platform.vibration_kg = idle
        self.scale.step(t, self.platform.load_kg(t, density), dt)
        self.shaken.step(t, self.platform.shaken_kg, dt)
        for told in self.ledger.disturbances[-4:]:
            if told.start_s <= t <= told.end_s:
                told.peak_kg = max(told.peak_kg, abs(self.shaken.seen_kg))
        if self.supply is not None and self.supply_scale is not None:
            new_rho = self.setup.fluid.density_kg_per_m3(self.setup.added_C)
            self.supply_scale.step(t, self.supply.load_kg(t, new_rho), dt)
            self.supply.push_kg = 0.0
