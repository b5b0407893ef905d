"""What hands, and a foot, can do in the bay."""

from copy import deepcopy
from dataclasses import dataclass

from drainscale_sim.bay.bay import Bay
from drainscale_sim.bay.ledger import DisturbanceKind, JugTruth, StageTruth
from drainscale_sim.bay.platform import Pulse, Vessel


@dataclass
class Hands:
    """What a person can do in the bay; each takes its time, which the caller waits."""

    bay: Bay

    def place_container(self) -> float:
        """Put the container on the platform, under the outlet; returns how long it takes, s."""
        bay, takes = self.bay, self.bay.rng.uniform(0.4, 1.0)
        bay.platform.put(bay.t, bay.container, takes)
        bay.is_under = True
        bay.ledger.placed_s.append(bay.t)
        return takes

    def lift_container(self, *, is_held_under: bool = False) -> float:
        """Lift the container off; it may go on catching what falls."""
        bay, takes = self.bay, self.bay.rng.uniform(0.4, 0.9)
        bay.platform.take(bay.t, takes)
        bay.is_under = is_held_under
        bay.ledger.lifted_s.append(bay.t)
        return takes

    def take_another_container(self) -> None:
        """Have an empty container of another weight in hand instead."""
        bay = self.bay
        tare_kg = bay.setup.bench.container_tare_kg * bay.rng.uniform(0.6, 0.9)
        bay.container = Vessel("another container", tare_kg)

    def empty_container(self) -> None:
        """Pour the container out."""
        self.bay.container.oil_kg = 0.0

    def open_drain(self) -> None:
        """Open the plug in the floor: of a standpipe unit the first stage, else the only one."""
        self._begin_stage("drain")
        self.bay.vehicle.drain_open = True

    def pull_pipe(self) -> None:
        """Pull the standpipe: the rest of the pan runs out."""
        self._begin_stage("drain-pan")
        self.bay.vehicle.pipe_in = False

    def _begin_stage(self, step: str) -> None:
        bay = self.bay
        self._end_stages()
        bay.ledger.begin(bay.t, step)
        bay.ledger.stages.append(StageTruth(step, bay.t, fluid_C=bay.vehicle.heat.fluid_C))

    def _end_stages(self) -> None:
        bay = self.bay
        for stage in (bay.ledger.stages + bay.ledger.spills)[-4:]:
            if stage.ended_s is None:
                stage.ended_s = bay.t

    def shut(self) -> None:
        """Shut every outlet, standpipe back in."""
        bay = self.bay
        if bay.ledger.spills and bay.ledger.spills[-1].ended_s is None:
            bay.left_open = deepcopy(bay.vehicle)
        hung_kg = bay.vehicle.shut()
        bay.book(hung_kg)
        bay.ledger.beside_kg += hung_kg  # stays on the rag
        bay.floor_kg += hung_kg
        self._end_stages()
        bay.vehicle.pipe_in = True

    def open_level(self) -> None:
        """Open the level plug."""
        bay = self.bay
        self._end_stages()
        bay.ledger.begin(bay.t, "level")
        bay.ledger.spills.append(StageTruth("level", bay.t, fluid_C=bay.vehicle.heat.fluid_C))
        self.open_rim()

    def open_rim(self) -> None:
        """Open the way over the rim, whatever for."""
        vehicle = self.bay.vehicle
        if vehicle.setup.has_standpipe:
            vehicle.drain_open = True
        else:
            vehicle.check_open = True

    def put_jug(self, volume_L: float) -> float:
        """Put a jug of new fluid on its platform."""
        bay, takes = self.bay, self.bay.rng.uniform(0.4, 0.9)
        bench, rho = bay.setup.bench, bay.setup.fluid.density_kg_per_m3(bay.setup.added_C)
        bay.jug = Vessel("jug", bench.jug_tare_kg, volume_L * rho / 1000.0)
        bay.jug_platform.put(bay.t, bay.jug, takes)
        bay.ledger.jugs.append(JugTruth(bay.t))
        if bay.supply is None:
            bay.ledger.placed_s.append(bay.t)
        return takes

    def pump_in(self) -> float:
        """Put the pump into the jug."""
        return self._move_pump("pump-in", self.bay.setup.bench.pump_kg)

    def pump_out(self) -> float:
        """Take the pump out again."""
        return self._move_pump("pump-out", 0.0)

    def _move_pump(self, kind: DisturbanceKind, weighs_kg: float) -> float:
        bay = self.bay
        if bay.jug is not None:
            bay.jug.pump_kg = weighs_kg
        bay.jug_platform.press(Pulse("touch", bay.t, 1.2, bay.rng.uniform(0.05, 0.3)))
        if bay.supply is None:
            bay.tell(kind, bay.t + 1.6)
        if kind == "pump-in":
            bay.ledger.jugs[-1].pump_in = bay.t
        else:
            bay.ledger.jugs[-1].pump_out = bay.t
        return 1.6

    def pump(self) -> None:
        """Start pumping; it goes on until the jug is empty or he stops."""
        bay = self.bay
        bay.is_pumping = True
        bay.strokes = bay.tell("vibration", bay.t)
        bay.ledger.jugs[-1].first = bay.t

    def stop_pump(self) -> None:
        """Stop pumping."""
        self.bay.is_pumping = False

    def take_jug(self) -> float:
        """Take the jug away."""
        bay, takes = self.bay, self.bay.rng.uniform(0.4, 0.9)
        bay.jug_platform.take(bay.t, takes)
        bay.jug = None
        bay.ledger.jugs[-1].off = bay.t
        if bay.supply is None:
            bay.ledger.lifted_s.append(bay.t)
        return takes

    def start_engine(self) -> None:
        """Start the engine."""
        bay = self.bay
        bay.vehicle.engine_on = True
        if bay.ledger.engine_on_s is None:
            bay.ledger.engine_on_s = bay.t

    def stop_engine(self) -> None:
        """Switch the engine off."""
        self.bay.vehicle.engine_on = False
        self.bay.ledger.engine_off_s = self.bay.t

    def shift(self) -> float:
        """Go through one gear: the car shakes."""
        bay = self.bay
        lasts = bay.rng.uniform(1.0, 4.0)
        if bay.platform.stands is not None:
            bay.press("shake", bay.setup.bench.gear_shake_kg, lasts)
        return lasts

    def press_foot(self, lasts_s: float) -> None:
        """Step on the foot switch."""
        self.bay.foot_until_s = self.bay.t + lasts_s
        self.bay.ledger.presses_s.append(self.bay.t)
