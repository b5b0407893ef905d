"""What the agent asks of the bench: one Protocol per kind of device, and the clock.

Drivers and simulated boards are held to them by the same suite, ``tests/contract``. Two rules hold
for all: ``None`` means that nothing usable came this time (go on asking), a ``SensorError`` that
the device cannot be used at all (say so, wait, open or ask again). And nobody waits except by the
clock, for a simulated clock stands still until all who live by it wait.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, Protocol

from drainscale.quantities.samples import PanFaultKind

LAMPS = ("red", "amber", "blue", "white")  # from top to bottom

FootChange = Literal["pressed", "released", "fault", "restored"]

SHORTEST_PRESS_S = 0.08  # shorter is a knock against the switch (common practice, no source)
LONGEST_PRESS_S = 2.0  # longer is a thing standing on it
REST_S = 0.5  # so soon after a press that counted: a foot that slipped, not a second answer


class Stop(Protocol):
    """A flag that another thread sets; ``threading.Event`` is one."""

    def is_set(self) -> bool:
        """Tell whether it was set."""
        ...


class Worker(Protocol):
    """A thread that was started by a clock."""

    def is_alive(self) -> bool:
        """Tell whether it still runs."""
        ...


class Clock(Protocol):
    """The bench's time. Only the agent asks it; the core gets its times with the samples."""

    def now_s(self) -> float:
        """Return the seconds since some fixed instant; never goes back."""
        ...

    def wall_s(self) -> float:
        """Return the seconds since 1970-01-01 UTC, right only if ``is_wall_set``."""
        ...

    def is_wall_set(self) -> bool:
        """Tell whether the wall time was set since the board started: a Pi has no battery."""
        ...

    def sleep(self, duration_s: float) -> None:
        """Wait; returns at once for 0 or less."""
        ...

    def wait(self, stop: Stop, timeout_s: float) -> bool:
        """Wait until the flag is set, at most so long; True if it is set."""
        ...

    def start(self, name: str, work: Callable[[], None]) -> Worker:
        """Run ``work`` in a thread that lives by this clock.

        Such a thread waits by this clock only. A lock, queue or socket that another of them has
        to move on would stop a simulated clock for good.
        """
        ...

    def join(self, worker: Worker, timeout_s: float) -> bool:
        """Wait for the worker's end; True if it has ended."""
        ...


class LoadCell(Protocol):
    """The converter under one platform. One thread reads it."""

    @property
    def way(self) -> str:
        """How it is read, for the log: ``spi``, ``iio``, ``bitbang``."""
        ...

    @property
    def frames_dropped(self) -> int:
        """Count the frames that were electrically invalid since it was opened."""
        ...

    def read(self, timeout_s: float) -> int | None:
        """Wait for the next conversion and return it, -8388608 to 8388607.

        Both ends of the range are saturation and are handed on: the core knows what to do with
        them. The package ``hx711`` swallows them, so over it they come as ``None``.

        Args:
            timeout_s: How long to wait at most (over the kernel's driver: 2 s if the converter
                is silent). The converter's period is 0.1 s or 0.0125 s; after a restart up to
                1 s passes before the first count.

        Returns:
            The raw count, neither filtered nor interpreted; ``None`` if no valid one came in time.

        Raises:
            SensorError: The device cannot be used any more.
        """
        ...

    def close(self) -> None:
        """Let the pins go; twice does no harm."""
        ...


@dataclass(frozen=True, slots=True)
class PanSensorFrame:
    """One valid frame of the thermocouple's converter.

    Exactly one of ``pan_C`` and ``fault`` is there; the converter's own temperature always is.
    """

    board_C: float
    pan_C: float | None = None
    fault: PanFaultKind | None = None


class Thermometer(Protocol):
    """The clamp-on thermocouple with its converter. One thread reads it: a read may take 2 s."""

    def read(self) -> PanSensorFrame | None:
        """Convert once and return what came.

        Returns:
            The frame, a fault of the thermocouple included; ``None`` if no valid frame came.

        Raises:
            SensorError: The converter or its bus is not there.
        """
        ...

    def close(self) -> None:
        """Let the bus go; twice does no harm."""
        ...


class Indicator(Protocol):
    """Lamps and sounder. They keep what was shown last; patterns are made by the caller."""

    def show(self, lit: frozenset[str]) -> None:
        """Light exactly these lamps of ``LAMPS``.

        Raises:
            ValueError: A lamp that is not there.
        """
        ...

    def sound(self, pitch_Hz: float | None) -> None:
        """Sound this pitch from now on; ``None``: be silent."""
        ...

    def close(self) -> None:
        """Lamps dark, sounder silent, pins free; twice does no harm."""
        ...


@dataclass(frozen=True, slots=True)
class FootEvent:
    """A debounced change of the foot switch.

    ``fault``: both contacts say the same for longer than a change-over takes (cable, plug), or
    the switch was down when the kit started. Nothing but ``restored`` comes until that is over.
    """

    t: float
    change: FootChange
    held_s: float | None = None  # with "released": how long it was down
    is_repeat: bool = False  # with "released": it went down within ``REST_S`` of a press

    @property
    def is_press(self) -> bool:
        """Tell whether this ends a press that counts: no knock, nothing left on it, no repeat."""
        if self.held_s is None or self.is_repeat:
            return False
        return SHORTEST_PRESS_S <= self.held_s <= LONGEST_PRESS_S


class FootSwitch(Protocol):
    """The foot switch with its two contacts."""

    def events(self) -> tuple[FootEvent, ...]:
        """Return what happened since the last call, in time order. Call it every 50 ms or so.

        Times are the clock's, of the moment when the contact moved.
        """
        ...

    def close(self) -> None:
        """Let the pins go; twice does no harm."""
        ...
