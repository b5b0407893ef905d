"""The transmission: oil in a sump and in the circuit, a rim that sets the level, outlets.

Two builds. *Standpipe*: one plug in the floor with a pipe standing in it; the pipe's rim is the
level, and with the pipe pulled the rest runs out through the same plug. *Check plug*: a drain
plug in the floor and a check hole in the side, whose lower edge is the level.
"""

from dataclasses import dataclass, field
from math import hypot, pi, sin, sqrt

from drainscale_sim.bay.fluid import Fluid
from drainscale_sim.bay.heat import Heat
from drainscale_sim.bay.outflow import (
    GRAVITY_M_PER_S2,
    down_pipe_m3_per_s,
    drop_mass_kg,
    film_run_off_m3_per_s,
    side_hole_m3_per_s,
)

# a lip lets go of even the thinnest stream with the speed of some 2 mm of fall
LIP_M_PER_S = 0.2


@dataclass(frozen=True)
class VehicleSetup:
    """One unit's build and how it stood before the service; SI units and litres.

    Args:
        has_standpipe: Which of the two builds.
        area_m2: Area of the oil's surface.
        rim_m: Height of the rim, or of the check hole's lower edge, over the floor.
        pipe_bore_m: Bore of the standpipe, or of the check hole.
        pipe_m: Length of the standpipe.
        plug_bore_m: Bore of the hole in the floor.
        plug_m: Its length.
        crest_m: Head that the oil's own skin holds back at the rim.
        hold_run_L: Oil in converter, cooler and ducts while the engine runs.
        hold_stop_L: The same after a long stop; less, so that the sump stands higher.
        hold_tau_s: Time constant between the two.
        start_excess_L: Oil above (below: negative) the right level, as at `right_C`, running.
        right_C: Temperature at which the level is right at the rim.
        film_share: Share of what the falling level uncovers that stays on the walls.
        film_width_m: All walls together.
        film_height_m: How far down they reach.
        ripple_m: Amplitude of the surface while the engine runs.
        ripple_Hz: Its rate.
        tip_radius_m: Edge from which it drips.
        drops_below_kg_per_s: Flow below which the stream breaks into drops.
    """

    has_standpipe: bool = True
    area_m2: float = 0.055
    rim_m: float = 0.028
    pipe_bore_m: float = 0.010
    pipe_m: float = 0.028
    plug_bore_m: float = 0.011
    plug_m: float = 0.006
    crest_m: float = 0.0008
    hold_run_L: float = 5.6
    hold_stop_L: float = 4.7
    hold_tau_s: float = 15.0
    start_excess_L: float = 0.0
    right_C: float = 40.0
    film_share: float = 0.05
    film_width_m: float = 3.0
    film_height_m: float = 0.12
    ripple_m: float = 0.0002
    ripple_Hz: float = 2.3
    tip_radius_m: float = 0.003
    drops_below_kg_per_s: float = 0.00015


@dataclass
class Outlet:
    """The lip of an outlet: what hangs there and falls as a stream or in drops."""

    drop_kg: float
    drops_below_kg_per_s: float
    hangs_kg: float = 0.0

    def pass_on(self, mass_kg: float, dt: float) -> float:
        """Take what reaches the lip within `dt` and return what falls off."""
        self.hangs_kg += mass_kg
        is_stream = mass_kg > self.drops_below_kg_per_s * dt
        if is_stream or self.hangs_kg >= self.drop_kg:
            falls, self.hangs_kg = self.hangs_kg, 0.0
            return falls
        return 0.0

    def wipe(self) -> float:
        """Let go of what hangs: the plug was put in."""
        falls, self.hangs_kg = self.hangs_kg, 0.0
        return falls


@dataclass
class Vehicle:
    """The unit's state; `step` runs it on.

    `drain_open` is the plug in the floor (of a standpipe unit: the only plug), `check_open` the
    check hole of the other build.
    """

    setup: VehicleSetup
    fluid: Fluid
    heat: Heat
    drain_open: bool = False
    check_open: bool = False
    pipe_in: bool = True
    engine_on: bool = False
    film_m3: float = 0.0
    mass_kg: float = field(init=False)
    hold_m3: float = field(init=False)
    outlet: Outlet = field(init=False)
    flow_kg_per_s: float = 0.0  # at the lip, in the last step
    clock_s: float = 0.0

    def __post_init__(self) -> None:
        s = self.setup
        right_L = s.area_m2 * s.rim_m * 1000.0 + s.hold_run_L
        density = self.fluid.density_kg_per_m3(s.right_C)
        self.mass_kg = density * (right_L + s.start_excess_L) / 1000.0
        self.hold_m3 = s.hold_stop_L / 1000.0
        self.outlet = Outlet(drop_mass_kg(s.tip_radius_m), s.drops_below_kg_per_s)

    @property
    def density_kg_per_m3(self) -> float:
        """Density of the oil as it is now, kg/m3."""
        return self.fluid.density_kg_per_m3(self.heat.fluid_C)

    @property
    def sump_m3(self) -> float:
        """Oil that stands in the sump, m3."""
        return max(self.mass_kg / self.density_kg_per_m3 - self.hold_m3 - self.film_m3, 0.0)

    @property
    def excess_m3(self) -> float:
        """Oil above the level at which it stops running over the rim, m3; below it negative."""
        return self.sump_m3 - self.setup.area_m2 * (self.setup.rim_m + self.setup.crest_m)

    @property
    def is_open(self) -> bool:
        """Whether oil may run out anywhere."""
        return self.drain_open or self.check_open

    @property
    def opens_at_rim(self) -> bool:
        """Whether what is open gives only what stands above the rim."""
        if self.setup.has_standpipe:
            return self.drain_open and self.pipe_in
        return self.check_open and not self.drain_open

    def add(self, mass_kg: float, added_C: float) -> None:
        """Pour oil in."""
        self.heat.mix(mass_kg, added_C, self.mass_kg)
        self.mass_kg += mass_kg

    def shut(self) -> float:
        """Shut every outlet; returns what hung there, kg, which is wiped off."""
        self.drain_open = self.check_open = False
        return self.outlet.wipe()

    def step(self, dt: float) -> tuple[float, float]:
        """Go on by `dt`, in s.

        Returns:
            What fell off the outlet, kg, and its speed downward, m/s.
        """
        self.clock_s += dt
        self.heat.step(dt, self.engine_on)
        self._circulate(dt)
        if not self.is_open:
            self.flow_kg_per_s = 0.0
            self._run_off(dt)
            return 0.0, 0.0
        density = self.density_kg_per_m3
        flow, bore = self._flow_m3_per_s()
        gone_m3 = min(flow * dt, self._yields_m3())
        self.mass_kg -= gone_m3 * density
        if not self.engine_on:
            self.film_m3 += self.setup.film_share * gone_m3
        self._run_off(dt)
        self.flow_kg_per_s = gone_m3 * density / dt
        falls = self.outlet.pass_on(gone_m3 * density, dt)
        speed = hypot(gone_m3 / dt / (0.25 * pi * bore * bore), LIP_M_PER_S)
        return falls, speed if falls > 0.0 else 0.0

    def _circulate(self, dt: float) -> None:
        s = self.setup
        end = (s.hold_run_L if self.engine_on else s.hold_stop_L) / 1000.0
        # it fills at once, but runs back through clutches and ducts slowly
        tau = s.hold_tau_s if self.engine_on else 8.0 * s.hold_tau_s
        self.hold_m3 += (end - self.hold_m3) * min(dt / tau, 1.0)

    def _run_off(self, dt: float) -> None:
        if self.film_m3 <= 0.0:
            return
        if self.engine_on:  # what splashes about is part of what the engine holds up
            self.film_m3 -= self.film_m3 * min(dt / 10.0, 1.0)
            return
        s = self.setup
        nu = self.fluid.nu_m2_per_s(self.heat.fluid_C)
        spread = 2.0 / 3.0 * s.film_width_m * sqrt(nu * s.film_height_m**3 / GRAVITY_M_PER_S2)
        self.film_m3 -= min(film_run_off_m3_per_s(self.film_m3, spread) * dt, self.film_m3)

    def _yields_m3(self) -> float:
        return max(self.excess_m3, 0.0) if self.opens_at_rim else self.sump_m3

    def _flow_m3_per_s(self) -> tuple[float, float]:
        """Flow out of what is open, and the bore that it leaves by."""
        s = self.setup
        nu = self.fluid.nu_m2_per_s(self.heat.fluid_C)
        level = self.sump_m3 / s.area_m2
        if not self.opens_at_rim:
            return down_pipe_m3_per_s(s.plug_bore_m, s.plug_m, level, nu), s.plug_bore_m
        head = level - s.rim_m - s.crest_m
        if self.engine_on:
            head += s.ripple_m * sin(2.0 * pi * s.ripple_Hz * self.clock_s)
        if s.has_standpipe:
            return down_pipe_m3_per_s(s.pipe_bore_m, s.pipe_m, head, nu), s.pipe_bore_m
        return side_hole_m3_per_s(s.pipe_bore_m, head), s.pipe_bore_m
