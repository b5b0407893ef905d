"""The pins of the simulated board: who claimed them, what drives them, who listens.

A pin that the kit drives has that level; else what hangs on it gives the level; else its pull.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

from drainscale_sim.board.clock import BoardClock

RISING, FALLING, BOTH = 1, 2, 3
PULL_UP, PULL_DOWN, PULL_NONE = 32, 64, 128

Edge = Callable[[int, int, int, int], object]  # chip, pin, level, ns
# Takes the level that the kit drives, None where it lets go, and the time in s.
Watcher = Callable[[bool | None, float], None]
Source = Callable[[float], bool | None]  # time in s; None: drives nothing


@dataclass(slots=True)
class Line:
    """One pin."""

    owner: int | None = None
    is_output: bool = False
    is_alert: bool = False
    edges: int = 0
    pull: int = PULL_NONE
    boot_level: bool = False
    driven: bool = False
    debounce_s: float = 0.0
    outside: bool | None = None  # what hangs on it, where that stands still by itself
    source: Source | None = None  # what hangs on it, where that has to be asked
    watchers: list[Watcher] = field(default_factory=list)
    reported: bool | None = None  # the last level that an alert told
    settles: int = 0  # counts changes, so that a debounce knows whether one came after it
    pwm: tuple[float, float] | None = None  # Hz, %


class Lines:
    """All pins, on the board's clock.

    Each access by the kit takes ``access_s`` of the clock, and what ``stall_s`` says on top: the
    time that a busy system takes away in the middle of moving a pin.
    """

    def __init__(self, clock: BoardClock, pins: int = 28, access_s: float = 2e-6) -> None:
        self.clock = clock
        self.access_s = access_s
        self.stall_s: Callable[[], float] = lambda: 0.0
        self.lines = [Line(boot_level=bcm <= 8) for bcm in range(pins)]
        self.callbacks: list[tuple[int, int, int, Edge]] = []
        self.pwm_watchers: dict[int, Callable[[tuple[float, float] | None, float], None]] = {}

    def level(self, bcm: int) -> bool:
        """Return the level on a pin now."""
        line = self.lines[bcm]
        if line.is_output:
            return line.driven
        level = line.outside
        if line.source is not None:
            level = line.source(self.clock.now_s())
        if level is not None:
            return level
        if line.pull == PULL_NONE:
            return line.boot_level
        return line.pull == PULL_UP

    def read(self, bcm: int) -> bool:
        """Return the level, as the kit reads it."""
        self._take_time()
        return self.level(bcm)

    def write(self, bcm: int, level: bool) -> None:
        """Drive a pin, as the kit does."""
        # half before the pin moves and half after: a stall may lengthen a pulse or its pause
        self._take_time(0.5)
        self._drive(bcm, level)
        self._take_time(0.5)

    def claim(self, bcm: int, owner: int, *, is_output: bool, level: bool = False) -> None:
        """Make a pin an input or an output."""
        line = self.lines[bcm]
        line.owner, line.is_alert, line.edges = owner, False, 0
        if is_output:
            line.is_output = True
            self._drive(bcm, level)
        else:
            self._let_go(bcm)

    def free(self, bcm: int) -> None:
        """Let a pin go; it is an input again."""
        self.lines[bcm].owner = None
        self.lines[bcm].is_alert = False
        self._let_go(bcm)

    def abandon(self) -> None:
        """Let the process that holds the pins die: outputs stay as they stand, and are nobody's.

        That is the worse of the two things that a kernel may do then; a square wave ends, for the
        process makes it.
        """
        for bcm, line in enumerate(self.lines):
            line.owner, line.is_alert = None, False
            if line.pwm is not None:
                self.set_pwm(bcm, None)

    def set_outside(self, bcm: int, level: bool | None) -> None:
        """Let what hangs on a pin change its level; alerts are told."""
        line = self.lines[bcm]
        if line.outside == level:
            return
        line.outside = level
        self._tell_alert(bcm)

    def watch(self, bcm: int, watcher: Watcher) -> None:
        """Have something told of each level that the kit drives."""
        self.lines[bcm].watchers.append(watcher)

    def set_pwm(self, bcm: int, pwm: tuple[float, float] | None) -> None:
        """Start or end a square wave on an output."""
        self.lines[bcm].pwm = pwm
        watcher = self.pwm_watchers.get(bcm)
        if watcher is not None:
            watcher(pwm, self.clock.now_s())

    def _take_time(self, share: float = 1.0) -> None:
        self.clock.spend(share * self.access_s + self.stall_s())

    def _drive(self, bcm: int, level: bool) -> None:
        line = self.lines[bcm]
        line.driven = level
        for watcher in line.watchers:
            watcher(level, self.clock.now_s())

    def _let_go(self, bcm: int) -> None:
        line = self.lines[bcm]
        was_output, line.is_output = line.is_output, False
        if line.pwm is not None:
            self.set_pwm(bcm, None)
        if was_output:
            for watcher in line.watchers:
                watcher(None, self.clock.now_s())

    def _tell_alert(self, bcm: int) -> None:
        line = self.lines[bcm]
        if not line.is_alert:
            return
        line.settles += 1
        if line.debounce_s <= 0.0:
            self._report(bcm)
            return
        this_change = line.settles

        def report_if_still() -> None:
            if line.settles == this_change:
                self._report(bcm)

        self.clock.call_at(self.clock.now_s() + line.debounce_s, report_if_still)

    def _report(self, bcm: int) -> None:
        line = self.lines[bcm]
        level = self.level(bcm)
        if not line.is_alert or level == line.reported:
            return
        line.reported = level
        edge = RISING if level else FALLING
        for chip, pin, edges, tell in list(self.callbacks):
            if pin == bcm and edges & line.edges & edge:
                tell(chip, bcm, int(level), int(self.clock.now_s() * 1e9))
