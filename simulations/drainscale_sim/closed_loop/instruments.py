"""Instruments without a fault of their own, on fixed times: what a killed run is compared by.

On the simulated board each start moves the phases of converters and polls by milliseconds. These
read the world at the same times whoever began when, so that a run that was killed and taken up
again has to give what the other gave, to the last byte. Their times never meet a turn's.
"""

from drainscale.agent.devices import Devices
from drainscale.agent.job_run import next_on_grid
from drainscale.ports import (
    SHORTEST_PRESS_S,
    Clock,
    FootEvent,
    PanSensorFrame,
)
from drainscale.quantities.job import Job
from drainscale_sim.bench_world import BenchWorld, Scale

FULL_SCALE = (1 << 23) - 1
CELL_AT_S = {"drain": 0.013, "supply": 0.021}  # after each whole period
PAN_EVERY_S, PAN_AT_S = 0.5, 0.037


class Conversions:
    """A load cell's converter, read at the end of each conversion."""

    way = "ideal"
    frames_dropped = 0

    def __init__(self, world: BenchWorld, scale: Scale, clock: Clock, rate_Hz: float) -> None:
        self._world, self._scale, self._clock = world, scale, clock
        self._period_s, self._at_s = 1.0 / rate_Hz, CELL_AT_S[scale]
        self._held: int | None = None

    def read(self, timeout_s: float) -> int | None:
        """Wait for the next conversion; ``None`` if none comes in time."""
        now_s = self._clock.now_s()
        due_s = next_on_grid(now_s - self._at_s, self._period_s) + self._at_s
        self._clock.sleep(min(due_s - now_s, timeout_s))
        if due_s - now_s > timeout_s:
            return None
        t_s = round(due_s, 6)
        fault = self._world.scale_fault(self._scale, t_s)
        if fault == "silent":
            return None
        if fault is None or self._held is None:
            counts = round(self._world.bridge_counts(self._scale, t_s))
            self._held = max(min(counts, FULL_SCALE), -FULL_SCALE - 1)
        return self._held

    def close(self) -> None:
        """Nothing is held."""


class Pan:
    """The thermocouple's converter, twice a second."""

    def __init__(self, world: BenchWorld, clock: Clock) -> None:
        self._world, self._clock = world, clock

    def read(self) -> PanSensorFrame | None:
        """Wait for the next reading."""
        now_s = self._clock.now_s()
        due_s = next_on_grid(now_s - PAN_AT_S, PAN_EVERY_S) + PAN_AT_S
        self._clock.sleep(due_s - now_s)
        t_s = round(due_s, 6)
        fault = self._world.pan_fault(t_s)
        if fault == "silent":
            return None
        board_C = round(self._world.board_C(t_s) * 16.0) / 16.0
        if fault is not None:
            return PanSensorFrame(board_C, fault=fault)
        return PanSensorFrame(board_C, round(self._world.pan_skin_C(t_s) * 4.0) / 4.0)

    def close(self) -> None:
        """Nothing is held."""


class Signals:
    """Lamps and sounder, as the world sees and hears them."""

    def __init__(self, world: BenchWorld, clock: Clock) -> None:
        self._world, self._clock = world, clock

    def show(self, lit: frozenset[str]) -> None:
        """Light these lamps."""
        self._world.lamps(self._clock.now_s(), lit)

    def sound(self, pitch_Hz: float | None) -> None:
        """Sound this pitch."""
        self._world.sounder(self._clock.now_s(), pitch_Hz)

    def close(self) -> None:
        """Nothing is held; what was shown last stays."""


class Foot:
    """The foot switch, looked at once a turn; a press that began before the agent counts."""

    def __init__(self, world: BenchWorld, clock: Clock) -> None:
        self._world, self._clock = world, clock
        self._is_down = False
        self._down_s = 0.0

    def events(self) -> tuple[FootEvent, ...]:
        """Return what happened since the last turn."""
        now_s = self._clock.now_s()
        is_down, was_down = self._world.foot_switch_pressed(now_s), self._is_down
        self._is_down = is_down
        if is_down and not was_down:
            self._down_s = now_s
            return (FootEvent(now_s, "pressed"),)
        if was_down and not is_down:
            return (FootEvent(now_s, "released", max(now_s - self._down_s, SHORTEST_PRESS_S)),)
        return ()

    def close(self) -> None:
        """Nothing is held."""


def instruments(world: BenchWorld, clock: Clock, job: Job) -> Devices:
    """Put a bench of such instruments together."""
    supply = job.supply_scale
    return Devices(
        clock=clock,
        drain_cell=lambda: Conversions(world, "drain", clock, job.scale.rate_Hz),
        thermometer=lambda: Pan(world, clock),
        indicator=lambda: Signals(world, clock),
        foot_switch=lambda: Foot(world, clock),
        supply_cell=None
        if supply is None
        else lambda: Conversions(world, "supply", clock, supply.rate_Hz),
    )
