"""The agent's loop: sensors' threads in, core, cues, foot switch, spool.

    threads:  drain scale  supply scale  thermometer        (each waits for its own device)
                   └────────────┴──────────┴──> Intake ──> this loop, twenty times a second:
                                                           keep, measure, look, show, listen

One thread measures, so nothing in the core is shared; the slow disk and the broker have threads
of their own behind ``JobKeeper``.
"""

import logging
import threading
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from typing import Protocol

from drainscale.agent.devices import Devices
from drainscale.agent.intake import Intake
from drainscale.agent.job_run import JobRun, Keeper, next_on_grid
from drainscale.agent.sensors import Health, read_load_cell, read_thermometer
from drainscale.core import Live
from drainscale.errors import DrainscaleError
from drainscale.messages.records import Body
from drainscale.ports import FootSwitch, Indicator, Stop, Worker
from drainscale.procedure.steps import Step
from drainscale.quantities.samples import StepMark
from drainscale.signals.player import CuePlayer
from drainscale.signals.vocabulary import vocabulary

log = logging.getLogger(__name__)

TURN_S = 0.05
STATUS_S = 60.0
END_S = 3.0  # how long a thread may take to end
SOUND_OUT_S = 2.0  # longer than an answer to a press and the pause after it
SETTLE_S = 1.0  # longer nobody waits for the answer to a press; nothing is measured meanwhile


class JobKeeper(Keeper, Protocol):
    """What the loop asks of spool and uplink beside keeping."""

    def turn(self, live: Live | None) -> None:
        """Once a turn: commit what is due; ``live`` when the figures were formed anew."""
        ...

    def settle(self, timeout_s: float) -> bool:
        """Wait until all that was told is on the disk, at most so long; True if it is."""
        ...

    def status(self) -> str:
        """Key=value fields for the status line."""
        ...


@dataclass(slots=True)
class Turning:
    """What the loop counts."""

    turns: int = 0
    samples: int = 0
    next_status_s: float = field(default=float("-inf"))


class Loop:
    """Runs one job to its end, or until it is told to stop.

    Args:
        devices: The bench.
        run: The job.
        keeper: Spool and uplink.
        started_s: What the clock showed at the job's ``t = 0``.
        is_muted: Sound only what is urgent.
    """

    def __init__(
        self,
        devices: Devices,
        run: JobRun,
        keeper: JobKeeper,
        started_s: float,
        *,
        is_muted: bool = False,
    ) -> None:
        self._devices = devices
        self._clock = devices.clock
        self._run = run
        self._keeper = keeper
        self._is_muted = is_muted
        self.intake = Intake(devices.clock, started_s)
        self.health = {name: Health(name) for name in ("drain", "supply", "pan")}
        self.turning = Turning()
        self._broken: dict[str, str] = {}
        self._is_disk_late = False  # what was pressed last was not on the disk in time

    def resume(self, told: Iterable[Body]) -> None:
        """Take the job up where the spool left it, by all that was kept of it."""
        self._run.replay(told)
        if self._run.service.t is not None:
            self.intake.resume_after(self._run.service.t)

    def run(self, stop: Stop) -> None:
        """Turn until the job is done or ``stop`` is set; lamps dark and pins free afterwards."""
        halt = threading.Event()
        workers = self._start_sensors(halt)
        indicator = self._open_indicator()
        foot = self._open_foot_switch()
        player = None
        if indicator is not None:
            player = CuePlayer(vocabulary(), indicator, is_muted=self._is_muted)
        try:
            while not stop.is_set() and not self._run.may_close:
                self._turn(player, foot)
                now_t = self.intake.now_t()
                # on a grid of the job's time: a run that was taken up turns when the old one would
                self._clock.wait(stop, next_on_grid(now_t, TURN_S) - now_t)
            self._last_turn()
            self._sound_out(player)
        finally:
            halt.set()
            self._end(workers, indicator, foot)

    # --- one turn ------------------------------------------------------------------------------

    def _turn(self, player: CuePlayer | None, foot: FootSwitch | None) -> None:
        samples = self.intake.take()
        self._run.feed(samples)
        self.turning.turns += 1
        self.turning.samples += len(samples)
        now_t = self.intake.now_t()
        live = self._run.look(now_t)
        self._signal(player, now_t)
        heard = self._listen(foot)
        for step in self._run.take_marks():
            self.intake.put(partial(_mark, step))
        self._run.feed(self.intake.take())  # in the same turn as the press that meant it
        self._keeper.turn(live)
        if heard:
            self._reply(player, is_taken=any(heard))
        self._say_status()

    def _signal(self, player: CuePlayer | None, now_t: float) -> None:
        """Show the cue; lamps that fail must not end the measurement."""
        if player is None:
            return
        try:
            player.show(self._run.cue_since_t, self._run.cue)
            player.tick(now_t)
        except Exception as error:  # noqa: BLE001  the pins' library has errors of its own
            self._broke("lamps", error)

    def _reply(self, player: CuePlayer | None, *, is_taken: bool) -> None:
        """Answer a press once it is on the disk: what is answered, no kill takes back.

        A disk that refuses has a fault of its own; the press counts in this run all the same. The
        cue plays on meanwhile, and nobody waits a second time for a disk that did not come.
        """
        slices_n = 1 if self._is_disk_late else round(SETTLE_S / TURN_S)
        for n in range(slices_n):
            if n:
                self._signal(player, self.intake.now_t())
            self._is_disk_late = not self._keeper.settle(TURN_S)
            if not self._is_disk_late:
                break
        if player is not None:
            player.reply(self.intake.now_t(), is_taken=is_taken)

    def _listen(self, foot: FootSwitch | None) -> list[bool]:
        """Take presses, and tell of each whether it meant anything.

        A switch that fails must not end the measurement.
        """
        if foot is None:
            return []
        try:
            events = foot.events()
        except Exception as error:  # noqa: BLE001  as above
            self._broke("foot-switch", error)
            return []
        heard: list[bool] = []
        for event in events:
            if event.is_press:
                heard.append(self._run.pressed(self.intake.now_t()))
            elif event.change == "fault":
                self._run.fault(self.intake.now_t(), "foot-switch", "down, or its plug is out")
            elif event.change == "restored":
                log.warning("foot-switch=restored")
        return heard

    def _broke(self, part: str, error: Exception) -> None:
        if self._broken.get(part) != str(error):  # say a lasting fault once
            self._broken[part] = str(error)
            self._run.fault(self.intake.now_t(), part, str(error) or repr(error))

    def _last_turn(self) -> None:
        self._run.feed(self.intake.take())
        if self._run.may_close:  # stopped before, it is taken up again like after a kill
            self._run.close(self.intake.now_t(), "done")
        self._keeper.turn(None)

    def _sound_out(self, player: CuePlayer | None) -> None:
        """Let the answer to the last press be heard before the sounder is let go."""
        if player is None:
            return
        with suppress(Exception):  # the job is closed: a lamp that fails now is told nobody
            for _ in range(round(SOUND_OUT_S / TURN_S)):
                if not player.is_replying:
                    return
                self._clock.sleep(TURN_S)
                player.tick(self.intake.now_t())

    def _say_status(self) -> None:
        now_s = self._clock.now_s()
        if now_s < self.turning.next_status_s:
            return
        self.turning.next_status_s = now_s + STATUS_S
        sensors = " ".join(
            f"{one.name}={one.readings}/{one.invalid}/{one.failures}"
            for one in self.health.values()
            if one.is_open or one.failures
        )
        log.info(
            "status step=%s cue=%s samples=%d %s %s",
            self._run.service.situation.step,
            self._run.cue,
            self.turning.samples,
            sensors,
            self._keeper.status(),
        )

    # --- begin and end ---------------------------------------------------------------------------

    def _start_sensors(self, stop: Stop) -> list[Worker]:
        clock, devices, intake = self._clock, self._devices, self.intake
        workers = [
            clock.start(
                "drain-scale",
                lambda: read_load_cell(
                    devices.drain_cell, intake, clock, stop, self.health["drain"], is_supply=False
                ),
            ),
            clock.start(
                "thermometer",
                lambda: read_thermometer(
                    devices.thermometer, intake, clock, stop, self.health["pan"]
                ),
            ),
        ]
        supply = devices.supply_cell
        if supply is not None:
            workers.append(
                clock.start(
                    "supply-scale",
                    lambda: read_load_cell(
                        supply, intake, clock, stop, self.health["supply"], is_supply=True
                    ),
                )
            )
        return workers

    def _open_indicator(self) -> Indicator | None:
        try:
            return self._devices.indicator()
        except DrainscaleError as error:  # a bench without lamps still measures
            self._run.fault(self.intake.now_t(), "lamps", f"cannot be used: {error}")
            return None

    def _open_foot_switch(self) -> FootSwitch | None:
        try:
            return self._devices.foot_switch()
        except DrainscaleError as error:
            self._run.fault(self.intake.now_t(), "foot-switch", f"cannot be used: {error}")
            return None

    def _end(
        self, workers: list[Worker], indicator: Indicator | None, foot: FootSwitch | None
    ) -> None:
        for worker in workers:
            if not self._clock.join(worker, END_S):
                log.error("a sensor's thread did not end within %g s", END_S)
        for part, device in (("lamps", indicator), ("foot-switch", foot)):
            if device is not None:
                try:
                    device.close()
                except Exception as error:  # noqa: BLE001  as above; the result is still to be told
                    log.error("%s cannot be closed: %s", part, error)


def _mark(step: Step, t: float) -> StepMark:
    return StepMark(t, step)
