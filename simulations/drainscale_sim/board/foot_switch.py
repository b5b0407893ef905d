"""The foot switch with its two contacts, travel and bounce.

A change-over switch lets one contact go, travels for some milliseconds and meets the other, which
bounces (times are common practice, no source).
"""

from collections.abc import Callable
from random import Random

from drainscale.pins import FootSwitchPins
from drainscale_sim.board.clock import BoardClock
from drainscale_sim.board.lines import Lines

LOOK_S = 0.01  # how often the board asks whether a foot is on it
TRAVEL_S = (0.004, 0.012)
BOUNCES = (1, 5)
BOUNCE_S = (0.0003, 0.0018)


class SimulatedFootSwitch:
    """Moves the two lines when the foot moves."""

    def __init__(
        self,
        lines: Lines,
        wiring: FootSwitchPins,
        clock: BoardClock,
        is_pressed: Callable[[float], bool],
        seed: int,
    ) -> None:
        self._lines, self._wiring, self._clock = lines, wiring, clock
        self._is_pressed = is_pressed
        self._random = Random(seed)  # bounce, not secrets
        self._is_down = is_pressed(clock.now_s())
        self.is_cut = False  # the cable is out: both lines are pulled up
        self._set(wiring.closes, self._is_down)
        self._set(wiring.opens, not self._is_down)
        self.end = clock.call_every(LOOK_S, self._look)

    def cut(self) -> None:
        """Pull the plug out."""
        self.is_cut = True
        self._lines.set_outside(self._wiring.closes, True)
        self._lines.set_outside(self._wiring.opens, True)

    def mend(self) -> None:
        """Put the plug in again."""
        self.is_cut = False
        self._set(self._wiring.closes, self._is_down)
        self._set(self._wiring.opens, not self._is_down)

    def _look(self) -> None:
        now_s = self._clock.now_s()
        is_down = self._is_pressed(now_s)
        if is_down == self._is_down:
            return
        self._is_down = is_down
        leaving, meeting = self._wiring.opens, self._wiring.closes
        if not is_down:
            leaving, meeting = meeting, leaving
        left_s = self._bounce(leaving, now_s, ends_closed=False)
        self._bounce(meeting, left_s + self._random.uniform(*TRAVEL_S), ends_closed=True)

    def _bounce(self, bcm: int, t_s: float, *, ends_closed: bool) -> float:
        for _ in range(self._random.randint(*BOUNCES)):
            for is_closed in (ends_closed, not ends_closed):
                self._set_at(t_s, bcm, is_closed)
                t_s += self._random.uniform(*BOUNCE_S)
        self._set_at(t_s, bcm, ends_closed)
        return t_s

    def _set_at(self, t_s: float, bcm: int, is_closed: bool) -> None:
        self._clock.call_at(t_s, lambda: self._set(bcm, is_closed))

    def _set(self, bcm: int, is_closed: bool) -> None:
        if not self.is_cut:
            self._lines.set_outside(bcm, not is_closed)  # closed: connected to ground
