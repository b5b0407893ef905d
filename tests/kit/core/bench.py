"""A made-up bench for tests: a service in a few lines, as samples, with its truth.

    bench = Bench()
    bench.place(0.9)
    bench.wait(10.0)
    bench.open_drain(kg=3.0, tau_s=40.0)
    bench.wait(200.0)
    bench.samples, bench.drained_kg

The physics is its own and in closed forms, none of the core's: a bulk that runs out
exponentially and a film that follows it as t^-1/2 (Jeffreys, Proc. Camb. Phil. Soc. 26 (1930)
204), a spill by the weir's power 3/2, a warm-up of first order, a skin that follows with a lag.
Masses are true ones; what the scale shows is less by the air's buoyancy (OIML D 28).
"""

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import msgspec

from drainscale.core import Service
from drainscale.quantities.job import (
    Container,
    FluidSheet,
    Job,
    PanSensor,
    ProcedureLimits,
    ScaleSettings,
)
from drainscale.quantities.samples import (
    BoardReading,
    PanFault,
    PanReading,
    Sample,
    ScaleCount,
    StepMark,
)

SCALE = ScaleSettings(
    capacity_kg=20.0,
    rate_Hz=10.0,
    calibration_kg=(0.0, 5.0, 10.0),
    calibration_counts=(80_000.0, 2_180_000.0, 4_280_000.0),
    calibration_u_kg=0.0005,
    repeatability_u_kg=0.0004,
)
JOB = Job(
    procedure=ProcedureLimits(
        level_method="standpipe",
        window_C=(35.0, 45.0),
        allowance_L=0.5,
        close_flow_mL_per_min=60.0,
        drip_flow_mL_per_min=3.0,
    ),
    fluid=FluidSheet(
        density_kg_per_m3=846.0, density_C=15.0, density_u_kg_per_m3=1.5,
        viscosity_40C_mm2_per_s=29.5, viscosity_100C_mm2_per_s=6.0,
    ),
    scale=SCALE,
    pan_sensor=PanSensor(
        surface_ratio=0.90, surface_ratio_u=0.03, lag_s=25.0, lag_u_s=6.0, sensor_u_C=0.7
    ),
    container=Container(capacity_L=8.0),
)  # fmt: skip

COUNTS_PER_KG = 420_000.0
ZERO_COUNT = 80_000.0
STREAM_M_PER_S = 1.0  # downward speed of a stream as it leaves its hole
G_M_PER_S2 = 9.80665  # 3rd CGPM (1901)
AIR_KG_PER_M3, WEIGHTS_KG_PER_M3 = 1.2, 8000.0  # OIML D 28: conventional mass


def shown(true_kg: float, density_kg_per_m3: float = 846.0) -> float:
    """What a scale that weights were put on shows for an oil's true mass (OIML D 28)."""
    lifted = 1.0 - AIR_KG_PER_M3 / density_kg_per_m3
    return true_kg * lifted / (1.0 - AIR_KG_PER_M3 / WEIGHTS_KG_PER_M3)


@dataclass
class Drain:
    """What runs out of an open drain: a bulk and, behind it, a film."""

    kg: float
    tau_s: float
    film_kg: float = 0.03
    film_s: float = 20.0
    age_s: float = 0.0

    def ran_kg(self, age_s: float) -> float:
        bulk = self.kg * (1.0 - math.exp(-age_s / self.tau_s))
        return bulk + self.film_kg * (1.0 - 1.0 / math.sqrt(1.0 + age_s / self.film_s))

    def advance(self, dt: float) -> float:
        before = self.ran_kg(self.age_s)
        self.age_s += dt
        return self.ran_kg(self.age_s) - before


@dataclass
class Spill:
    """What runs over a rim: the weir's 3/2 of the volume above it, through a pipe."""

    excess_mL: float
    weir: float = 0.006  # mL/s per mL^1.5
    pipe_mL_per_s: float = 12.0
    inflow_mL_per_s: float = 0.0  # what the warming sump adds
    kg_per_mL: float = 0.000_835

    @property
    def flow_mL_per_s(self) -> float:
        excess_mL = max(self.excess_mL, 1e-9)
        weir = self.weir * excess_mL * math.sqrt(excess_mL)
        return weir * self.pipe_mL_per_s / math.hypot(weir, self.pipe_mL_per_s)

    def advance(self, dt: float) -> float:
        ran_mL = self.flow_mL_per_s * dt
        self.excess_mL += self.inflow_mL_per_s * dt - ran_mL
        return ran_mL * self.kg_per_mL


@dataclass
class WarmUp:
    """A first-order warm-up: T0 + (Tinf - T0) (1 - exp(-t / tau))."""

    start_C: float = 18.0
    final_C: float = 85.0
    tau_s: float = 700.0

    def fluid_C(self, run_s: float) -> float:
        left = math.exp(-max(run_s, 0.0) / self.tau_s)
        return self.final_C - (self.final_C - self.start_C) * left

    def reaches_s(self, limit_C: float) -> float:
        span = self.final_C - self.start_C
        return self.tau_s * math.log(span / (self.final_C - limit_C))


@dataclass
class Bench:
    """The bench and what is done at it; each act takes its time and leaves samples."""

    seed: int = 1
    job: Job = JOB
    noise_kg: float = 0.000_15
    air_C: float = 18.0
    warm_up: WarmUp = field(default_factory=WarmUp)
    t: float = 0.0
    samples: list[Sample] = field(default_factory=list)
    load_kg: float | None = None  # as shown; None: the platform is empty
    drained_kg: float = 0.0  # true; what ran out of drains, beside the scale too
    beside_kg: float = 0.0  # true; of it, what fell beside
    spilled_kg: float = 0.0
    added_kg: float = 0.0
    engine_s: float | None = None
    shaking_kg: float = 0.0
    is_scale_silent: bool = False
    pan_fault: bool = False

    def __post_init__(self) -> None:
        self._random = random.Random(self.seed)
        self._outlets: list[Drain | Spill] = []
        self._skin_C = self.air_C
        self._tick = 0
        self.started_s: dict[str, float] = {}  # when what was opened

    # --- time --------------------------------------------------------------------------------

    def wait(self, seconds: float, swing: Callable[[float], float] = lambda _: 0.0) -> None:
        """Let time pass; ``swing`` is what a hand or a knock adds to the reading, kg."""
        rate_Hz = self.job.scale.rate_Hz
        for i in range(round(seconds * rate_Hz)):
            self._tick += 1
            self.t = round(self._tick / rate_Hz, 6)
            reading_kg = self._run(1.0 / rate_Hz) + swing((i + 1) / rate_Hz)
            if not self.is_scale_silent:
                self._weigh(reading_kg)
            if self._tick % round(rate_Hz) == 0:
                self._warm()

    def _run(self, dt: float) -> float:
        """Let the outlets run for a while; return what the platform carries, as shown."""
        flow_kg_per_s = 0.0
        for outlet in self._outlets:
            ran_kg = outlet.advance(dt)
            flow_kg_per_s += ran_kg / dt
            if isinstance(outlet, Drain):
                self.drained_kg += ran_kg
                self.beside_kg += ran_kg if self.load_kg is None else 0.0
            else:
                self.spilled_kg += ran_kg
            if self.load_kg is not None:
                self.load_kg += shown(ran_kg)
        if self.load_kg is None:
            return 0.0
        # a scale under a stream reads more than what has left by flow x initial speed / g
        return self.load_kg + flow_kg_per_s * STREAM_M_PER_S / G_M_PER_S2

    def _weigh(self, reading_kg: float) -> None:
        noise = self._random.gauss(0.0, self.noise_kg) + self._random.gauss(0.0, self.shaking_kg)
        count = round(ZERO_COUNT + COUNTS_PER_KG * (reading_kg + noise))
        self.samples.append(ScaleCount(self.t, max(min(count, 8_388_607), -8_388_608)))

    def _warm(self) -> None:
        pan = self.job.pan_sensor
        skin_C = self.air_C + pan.surface_ratio * (self.fluid_C - self.air_C)
        self._skin_C += (skin_C - self._skin_C) * (1.0 - math.exp(-1.0 / pan.lag_s))
        read_C = round(4.0 * self._random.gauss(self._skin_C, 0.15)) / 4.0
        said = PanFault(self.t, "open") if self.pan_fault else PanReading(self.t, read_C)
        self.samples += [said, BoardReading(self.t, round(16.0 * self.air_C) / 16.0)]

    @property
    def fluid_C(self) -> float:
        """The fluid's true temperature."""
        return self.warm_up.fluid_C(-1.0 if self.engine_s is None else self.t - self.engine_s)

    def mark(self, step: str) -> None:
        """The technician says which step begins."""
        self.samples.append(StepMark(self.t, step))

    def start_engine(self) -> None:
        """The fluid warms from now on."""
        self.engine_s = self.t

    # --- what stands there -------------------------------------------------------------------

    def place(self, kg: float) -> None:
        """Put a load on the empty platform; it rings for a second."""
        self.load_kg = kg
        self.wait(2.0, ringing(0.2 * kg))

    def lift(self) -> float:
        """Take the load away; return what it weighed, as shown."""
        assert self.load_kg is not None
        kg = self.load_kg
        self.wait(0.6, lambda s: -kg * min(s / 0.6, 1.0))
        self.load_kg = None
        self.wait(1.0)
        return kg

    def add_kg(self, kg: float) -> None:
        """Lay something down (take it off: negative): a pump set in, a tool; a hand presses."""
        assert self.load_kg is not None
        self.load_kg += kg
        self.wait(1.2, ringing(0.15 * abs(kg)))

    def knock(self, kg: float = 0.08) -> None:
        """Knock against the platform."""
        self.wait(1.0, ringing(kg))

    def touch(self, kg: float = 0.3, seconds: float = 2.0) -> None:
        """Lean on the load for a while."""
        self.wait(seconds, lambda s: kg * math.sin(math.pi * min(s / seconds, 1.0)))

    # --- what runs ---------------------------------------------------------------------------

    def open_drain(self, kg: float, tau_s: float, film_kg: float = 0.03) -> Drain:
        """Open a drain plug (the next one, too: the first one's film goes on)."""
        self.started_s[f"drain {len(self._outlets)}"] = self.t
        drain = Drain(kg, tau_s, film_kg)
        self._outlets.append(drain)
        return drain

    def open_check(self, spill: Spill) -> Spill:
        """Open the check plug."""
        self.started_s["spill"] = self.t
        self._outlets.append(spill)
        return spill

    def shut(self) -> None:
        """Shut what is open."""
        self._outlets.clear()

    def pump(self, kg: float, strokes: int, every_s: float = 1.6) -> None:
        """Pump out of what stands there, stroke by stroke, true mass."""
        for _ in range(strokes):
            part_kg = kg / strokes
            self.added_kg += part_kg
            assert self.load_kg is not None
            self.load_kg -= shown(part_kg)
            self.wait(0.8, lambda s: shown(kg / strokes) * max(1.0 - s / 0.8, 0.0))
            self.wait(every_s - 0.8)


def ringing(kg: float) -> Callable[[float], float]:
    """Give a swing that dies away within a second."""
    return lambda s: kg * math.exp(-s / 0.2) * math.cos(2.0 * math.pi * 4.0 * s)


def serve(bench: Bench, *, spill: Spill | None = None, added_kg: float = 3.2) -> Bench:
    """Do a whole standpipe service, every step marked; spill opened in the window."""
    bench.mark("prepare")
    bench.wait(4.0)
    bench.place(0.9)
    bench.wait(8.0)
    bench.mark("drain")
    bench.open_drain(kg=2.2, tau_s=25.0)
    bench.wait(110.0)
    bench.mark("drain-pan")
    bench.open_drain(kg=0.5, tau_s=15.0)
    bench.wait(110.0)
    bench.mark("refit")
    bench.shut()
    bench.wait(8.0)
    bench.lift()
    fill(bench, added_kg)
    warm_and_check(bench, Spill(180.0) if spill is None else spill)
    return bench


def fill(bench: Bench, kg: float) -> None:
    """Put a jug there, set the pump in, pump, take both away."""
    bench.mark("refill")
    bench.place(4.6)
    bench.wait(8.0)
    bench.add_kg(0.5)
    bench.wait(6.0)
    bench.pump(kg, strokes=32)
    bench.wait(6.0)
    bench.lift()
    bench.wait(4.0)


def warm_and_check(bench: Bench, spill: Spill, open_K: float = 2.0) -> None:
    """Start the engine, wait for the window, check the level, finish."""
    low_C = bench.job.procedure.window_C[0]
    bench.mark("circulate")
    bench.start_engine()
    bench.wait(25.0)
    bench.mark("warm")
    bench.place(0.9)
    bench.wait(bench.warm_up.reaches_s(low_C + open_K) - 27.0)
    bench.mark("level")
    bench.open_check(spill)
    bench.wait(100.0)
    bench.shut()
    bench.mark("seal")
    bench.wait(10.0)
    bench.lift()
    bench.mark("done")
    bench.wait(5.0)


def without_marks(samples: Sequence[Sample]) -> list[Sample]:
    """Leave out what the technician said."""
    return [sample for sample in samples if not isinstance(sample, StepMark)]


def later(samples: Sequence[Sample], by_s: float) -> list[Sample]:
    """Shift all times."""
    return [replace(sample, t=round(sample.t + by_s, 6)) for sample in samples]


Answer = dict[str, Any]


def listened(bench: Bench, samples: Sequence[Sample] | None = None) -> Service:
    """Feed what the bench said (or something else) to the core."""
    service = Service(bench.job)
    for sample in bench.samples if samples is None else samples:
        service.feed(sample)
    return service


def answered(bench: Bench, samples: Sequence[Sample] | None = None) -> Answer:
    """Give the core's answer to what the bench said (or something else), as told."""
    service = listened(bench, samples)
    return msgspec.json.decode(msgspec.json.encode(service.finish().to_dict()), type=Answer)


def times(answer: Answer, event: str) -> list[float]:
    """When an event was told."""
    return [one["t"] for one in answer["events"] if one["event"] == event]


def with_first_jug(*, drains_s: float = 110.0, rests_s: float = 8.0) -> Bench:
    """Drained, the outlet shut, and a full jug on the platform."""
    bench = Bench()
    bench.wait(4.0)
    bench.place(0.9)
    bench.wait(8.0)
    bench.mark("drain")
    bench.open_drain(kg=2.2, tau_s=25.0)
    bench.wait(drains_s)
    bench.mark("refit")
    bench.shut()
    bench.wait(rests_s)
    bench.lift()
    bench.mark("refill")
    bench.place(4.6)
    bench.wait(8.0)
    return bench
