"""Watches a bench from both sides: what the agent tells, and what passes over the wires."""

from collections.abc import Callable

from drainscale.core import Live
from drainscale.messages.records import Body, EventTold
from drainscale_sim.bench_world import BenchWorld, PanFault, Scale, ScaleFault
from drainscale_sim.demo.core import snapshot_of
from drainscale_sim.demo.snapshot import Told
from drainscale_sim.demo.telling import Ended, Line, Report

ADVANCE_S = 0.1


class WatchedWires:
    """A world whose wires are looked at: lamps, sounder and foot switch; it keeps to `BenchWorld`.

    The board looks at the foot switch a hundred times a second, and each question moves the world
    on: it is told the time by itself only where nobody asked for a while.

    Args:
        world: The world behind.
    """

    def __init__(self, world: BenchWorld) -> None:
        self._world = world
        self._lit_now: frozenset[str] = frozenset()
        self._lit: frozenset[str] = frozenset()
        self._sounds_now = self._sounding = self._is_down = False
        self._presses = 0
        self._asked_s = world.now_s()

    def take(self) -> tuple[frozenset[str], bool, int]:
        """Return what was lit, whether it sounded, and the presses, since the last call."""
        taken = self._lit, self._sounding, self._presses
        self._lit, self._sounding, self._presses = self._lit_now, self._sounds_now, 0
        return taken

    def now_s(self) -> float:
        """The world's clock, s."""
        return self._world.now_s()

    def advance_to(self, t_s: float) -> None:
        """Let the world run on."""
        if t_s - self._asked_s >= ADVANCE_S:
            self._asked_s = t_s
            self._world.advance_to(t_s)

    def bridge_counts(self, scale: Scale, t_s: float) -> float:
        """What an ideal converter would read, in counts."""
        return self._world.bridge_counts(scale, t_s)

    def scale_fault(self, scale: Scale, t_s: float) -> ScaleFault | None:
        """How the scale fails."""
        return self._world.scale_fault(scale, t_s)

    def pan_skin_C(self, t_s: float) -> float:
        """The thermocouple's junction, °C."""
        return self._world.pan_skin_C(t_s)

    def board_C(self, t_s: float) -> float:
        """The converter's own temperature, °C."""
        return self._world.board_C(t_s)

    def pan_fault(self, t_s: float) -> PanFault | None:
        """How the thermocouple fails."""
        return self._world.pan_fault(t_s)

    def foot_switch_pressed(self, t_s: float) -> bool:
        """Whether his foot is on the switch; a new press is counted."""
        self._asked_s = t_s
        is_down = self._world.foot_switch_pressed(t_s)
        self._presses += is_down and not self._is_down
        self._is_down = is_down
        return is_down

    def lamps(self, t_s: float, lit: frozenset[str]) -> None:
        """Pass on which lamps are lit."""
        self._lit_now, self._lit = lit, self._lit | lit
        self._world.lamps(t_s, lit)

    def sounder(self, t_s: float, pitch_Hz: float | None) -> None:
        """Pass on what sounds, in Hz."""
        self._sounds_now = pitch_Hz is not None
        self._sounding |= self._sounds_now
        self._world.sounder(t_s, pitch_Hz)


class Watcher:
    """An onlooker of the agent's that says a line for each look.

    Args:
        wires: The wires of the same bench.
        say: Takes each line; where it waits, the service waits.
    """

    def __init__(self, wires: WatchedWires, say: Callable[[Line], None]) -> None:
        self._wires, self._say = wires, say
        self._told: list[Told] = []

    def told(self, body: Body) -> None:
        """Keep an event for the next line."""
        if isinstance(body, EventTold):
            self._told.append(Told(body.t, body.event, body.step, body.sensor))

    def looked(self, live: Live) -> None:
        """Say the figures, with all that was seen since the last ones."""
        lit, is_sounding, presses = self._wires.take()
        self._say(Report(snapshot_of(live), self._take_told(), lit, is_sounding, presses))

    def ended(self, answer: dict[str, object], *, is_done: bool) -> None:
        """Say how it ended."""
        self._say(Ended(is_done, answer, self._take_told(), self._wires.take()[2]))

    def _take_told(self) -> tuple[Told, ...]:
        told, self._told = self._told, []
        return tuple(told)
