"""Lamps and sounder: what the kit drives is told to the world, and kept."""

from drainscale.pins import Pins
from drainscale_sim.bench_world import BenchWorld
from drainscale_sim.board.lines import Lines


class Outputs:
    """Watches the pins of the lamps and of the sounder.

    ``lamps`` and ``sounds`` keep each change with its time, s: the lit lamps, the pitch in Hz.
    """

    def __init__(self, lines: Lines, wiring: Pins, world: BenchWorld) -> None:
        self._world = world
        self._lit: frozenset[str] = frozenset()
        self._pitch_Hz: float | None = None
        self.lamps: list[tuple[float, frozenset[str]]] = []
        self.sounds: list[tuple[float, float | None]] = []
        for name, bcm in wiring.lamps().items():
            self._watch_lamp(lines, name, bcm)
        lines.pwm_watchers[wiring.sounder.drive] = self._hear

    def _watch_lamp(self, lines: Lines, name: str, bcm: int) -> None:
        def see(level: bool | None, t_s: float) -> None:
            # a pin that is let go is pulled down: dark
            lit = self._lit | {name} if level else self._lit - {name}
            if lit != self._lit:
                self._lit = lit
                self.lamps.append((t_s, lit))
                self._world.lamps(t_s, lit)

        lines.watch(bcm, see)

    def _hear(self, pwm: tuple[float, float] | None, t_s: float) -> None:
        pitch_Hz = pwm[0] if pwm is not None and 0.0 < pwm[1] < 100.0 else None
        if pitch_Hz != self._pitch_Hz:
            self._pitch_Hz = pitch_Hz
            self.sounds.append((t_s, pitch_Hz))
            self._world.sounder(t_s, pitch_Hz)
