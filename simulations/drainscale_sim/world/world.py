"""The world in one object: bay, technician, faults and clock; it keeps to `BenchWorld`."""

import pickle
from typing import Self

from drainscale_sim.bay.bay import Bay
from drainscale_sim.bay.ledger import Grid
from drainscale_sim.bay.noise import normal_at
from drainscale_sim.bay.setup import Setup
from drainscale_sim.bench_world import PanFault, Scale, ScaleFault
from drainscale_sim.scenarios.draw import draw
from drainscale_sim.technician.guides import CueGuide, Guide, HabitGuide
from drainscale_sim.technician.technician import Technician
from drainscale_sim.world.clock import TICK_S, Clock

KEPT_SNAPSHOTS = 900

Shown = frozenset[str] | float | None  # the lamps that are lit; or the pitch, None for silence


class World:
    """One run of a bay with a technician in it.

    Args:
        setup: The run, every number drawn.
        follows_cues: The technician acts on lamps and sounder; else by habit (open loop).
        keeps_snapshots: Keep one a second, so that `restore` can set the world back.

    Example:
        >>> world = World.of("standpipe", seed=1, follows_cues=False)
        >>> world.advance_to(1.0)
        >>> world.now_s()
        1.0
    """

    def __init__(
        self, setup: Setup, *, follows_cues: bool = True, keeps_snapshots: bool = False
    ) -> None:
        self.setup = setup
        self.clock = Clock()
        self.bay = Bay(setup)
        self.guide: Guide = CueGuide() if follows_cues else HabitGuide(setup)
        self.technician = Technician(setup, self.bay, self.guide)
        self.grid = Grid()
        self.keeps_snapshots = keeps_snapshots
        self._snapshots: dict[int, tuple[bytes, int]] = {}
        self._shown: list[tuple[float, Shown]] = []  # what he saw and heard
        if keeps_snapshots:  # a kit may be killed before it has kept anything
            self._snapshots[0] = (self._pack(), 0)

    @classmethod
    def of(cls, scenario: str, seed: int, *, follows_cues: bool = True) -> Self:
        """Make the run of a scenario's file and a seed."""
        return cls(draw(scenario, seed), follows_cues=follows_cues)

    @property
    def is_over(self) -> bool:
        """Whether the technician has gone home."""
        return self.technician.is_gone

    def now_s(self) -> float:
        """The world's clock, in s since its start."""
        return self.clock.asked_s

    def advance_to(self, t_s: float) -> None:
        """Run on to `t_s`; a time that has passed changes nothing."""
        self.clock.ask(t_s)
        while ticks := self.clock.next_ticks(self.bay.is_quiet):
            self._step(ticks)

    def _step(self, ticks: int) -> None:
        self.clock.tick += ticks
        t = self.clock.t
        self.bay.step(t, ticks * TICK_S, self.grid)
        if self.clock.is_on_tenth:
            self.technician.act(t)
        if self.clock.tick % 50 == 0:
            self._close_second()

    def _close_second(self) -> None:
        vehicle = self.bay.vehicle
        is_level = self.bay.ledger.step == "level" and vehicle.is_open
        excess_mL = vehicle.excess_m3 * 1e6 if is_level else None
        self.grid.line(vehicle.heat.fluid_C, excess_mL)
        if self.keeps_snapshots:
            second = self.grid.seconds
            self._snapshots[second] = (self._pack(), second)
            self._snapshots.pop(second - KEPT_SNAPSHOTS, None)

    def bridge_counts(self, scale: Scale, t_s: float) -> float:
        """What an ideal converter would read, in counts.

        Raises:
            ValueError: There is no such scale in this run.
        """
        self.advance_to(t_s)
        if scale == "drain":
            return self.bay.scale.counts(t_s)
        if self.bay.supply_scale is None:
            raise ValueError("this run has no supply scale")
        return self.bay.supply_scale.counts(t_s)

    def scale_fault(self, scale: Scale, t_s: float) -> ScaleFault | None:
        """How the scale fails at `t_s`; a scale that is not there is silent."""
        self.advance_to(t_s)
        if scale == "supply" and self.bay.supply_scale is None:
            return "silent"
        return self.setup.faults.of_scale(scale, t_s)

    def pan_skin_C(self, t_s: float) -> float:
        """The thermocouple's junction, noise and bias included."""
        self.advance_to(t_s)
        clamp = self.setup.clamp
        noise = clamp.noise_K * normal_at(self.setup.seed * 8 + 3, t_s)
        return self.bay.clamp.skin_C + clamp.bias_K + noise

    def board_C(self, t_s: float) -> float:
        """The converter's own temperature."""
        self.advance_to(t_s)
        air = self.bay.vehicle.heat.near_air_C
        return air + self.setup.clamp.board_K + 0.03 * normal_at(self.setup.seed * 8 + 4, t_s)

    def pan_fault(self, t_s: float) -> PanFault | None:
        """How the thermocouple fails at `t_s`."""
        self.advance_to(t_s)
        return self.setup.faults.of_pan(t_s)

    def foot_switch_pressed(self, t_s: float) -> bool:
        """Whether the technician's foot is on the switch."""
        self.advance_to(t_s)
        return t_s < self.bay.foot_until_s

    def lamps(self, t_s: float, lit: frozenset[str]) -> None:
        """Let the technician see what is lit from now on."""
        self.advance_to(t_s)
        self._show(t_s, lit)

    def sounder(self, t_s: float, pitch_Hz: float | None) -> None:
        """Let the technician hear the sounder."""
        self.advance_to(t_s)
        self._show(t_s, pitch_Hz)

    def _show(self, t_s: float, shown: Shown) -> None:
        if self.keeps_snapshots:
            self._shown.append((t_s, shown))
        if isinstance(shown, frozenset):
            self.guide.see(t_s, shown)
        else:
            self.guide.hear(t_s, shown)

    def _pack(self) -> bytes:
        state = (self.clock, self.bay, self.guide, self.technician, self.grid.volume_m3)
        return pickle.dumps(state, pickle.HIGHEST_PROTOCOL)

    def save(self) -> tuple[bytes, int]:
        """Take a snapshot of the whole state; the grid of truth only by its length."""
        return self._pack(), self.grid.seconds

    def load(self, saved: tuple[bytes, int]) -> None:
        """Set the world back to a snapshot of its own."""
        state, seconds = saved
        self.clock, self.bay, self.guide, self.technician, volume_m3 = pickle.loads(state)
        self.grid.cut(seconds)
        self.grid.volume_m3 = volume_m3
        # nobody has asked for more than where it stands now
        self.clock.asked_s = self.clock.t

    def restore(self, t_s: float) -> float:
        """Set the world back to `t_s`: all that he saw and heard until then stays as it was.

        Returns:
            The time at which it stands now, s.

        Raises:
            ValueError: No snapshot reaches back so far.
        """
        second = int(t_s)
        if second not in self._snapshots:
            raise ValueError(f"no snapshot at {second} s")
        self.load(self._snapshots[second])
        for later in [s for s in self._snapshots if s > second]:
            del self._snapshots[later]
        shown, self._shown = self._shown, []
        for at_s, what in shown:
            if at_s > t_s:
                break
            if at_s < second:  # in the snapshot already
                self._shown.append((at_s, what))
                continue
            self.advance_to(at_s)
            self._show(at_s, what)
        self.advance_to(t_s)
        return self.clock.asked_s
