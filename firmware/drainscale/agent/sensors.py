"""The threads that read the sensors: each opens its device, reads, and opens it again.

A thread never dies of a device: a sensor that is gone is asked for again until it is back.
What that means for the measurement is the core's business, which sees that nothing comes.
"""

import logging
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial

from drainscale.agent.intake import Intake
from drainscale.errors import SensorError
from drainscale.ports import Clock, LoadCell, PanSensorFrame, Stop, Thermometer
from drainscale.quantities.samples import BoardReading, PanFault, PanReading, ScaleCount

log = logging.getLogger(__name__)

READ_S = 0.5  # how long one read of a load cell may wait
AGAIN_S = 2.0  # before a device that failed is opened again
PAN_EVERY_S = 0.5


@dataclass(slots=True)
class Health:
    """What one sensor's thread counts, for the status line and the log."""

    name: str
    readings: int = 0
    failures: int = 0
    invalid: int = 0
    last_error: str = ""
    is_open: bool = field(default=False)


def read_load_cell(
    open_it: Callable[[], LoadCell],
    intake: Intake,
    clock: Clock,
    stop: Stop,
    health: Health,
    *,
    is_supply: bool,
) -> None:
    """Read a scale's converter until told to stop (the body of its thread)."""
    while not stop.is_set():
        try:
            cell = open_it()
        except Exception as error:  # noqa: BLE001  as below
            _failed(health, error, clock, stop)
            continue
        health.is_open = True
        try:
            _read_counts(cell, intake, stop, health, is_supply=is_supply)
        except Exception as error:  # noqa: BLE001  whatever it is, the thread must outlive it
            _failed(health, error, clock, stop)
        finally:
            health.is_open = False
            _close(cell.close, health)


def _read_counts(
    cell: LoadCell, intake: Intake, stop: Stop, health: Health, *, is_supply: bool
) -> None:
    while not stop.is_set():
        count = cell.read(READ_S)
        health.invalid = cell.frames_dropped
        if count is not None:
            health.readings += 1
            intake.put(partial(_counted, count, is_supply))


def _counted(count: int, is_supply: bool, t: float) -> ScaleCount:
    return ScaleCount(t, count, is_supply)


def read_thermometer(
    open_it: Callable[[], Thermometer], intake: Intake, clock: Clock, stop: Stop, health: Health
) -> None:
    """Read the thermocouple's converter until told to stop (the body of its thread)."""
    while not stop.is_set():
        try:
            thermometer = open_it()
        except Exception as error:  # noqa: BLE001  as below
            _failed(health, error, clock, stop)
            continue
        health.is_open = True
        try:
            _read_frames(thermometer, intake, clock, stop, health)
        except Exception as error:  # noqa: BLE001  whatever it is, the thread must outlive it
            _failed(health, error, clock, stop)
        finally:
            health.is_open = False
            _close(thermometer.close, health)


def _read_frames(
    thermometer: Thermometer, intake: Intake, clock: Clock, stop: Stop, health: Health
) -> None:
    due_s = clock.now_s()
    while not stop.is_set():
        frame = thermometer.read()
        if frame is None:
            health.invalid += 1
        else:
            health.readings += 1
            _put(frame, intake)
        due_s = max(due_s + PAN_EVERY_S, clock.now_s())
        clock.wait(stop, due_s - clock.now_s())


def _put(frame: PanSensorFrame, intake: Intake) -> None:
    pan_C, fault = frame.pan_C, frame.fault
    if fault is not None:
        intake.put(lambda t: PanFault(t, fault))
    elif pan_C is not None:
        intake.put(lambda t: PanReading(t, pan_C))
    intake.put(lambda t: BoardReading(t, frame.board_C))


def _failed(health: Health, error: Exception, clock: Clock, stop: Stop) -> None:
    health.failures += 1
    said = str(error) or repr(error)
    if said != health.last_error:  # say a lasting fault once
        is_bug = not isinstance(error, SensorError)
        log.warning(
            "sensor=%s failures=%d error=%s", health.name, health.failures, said, exc_info=is_bug
        )
    health.last_error = said
    clock.wait(stop, AGAIN_S)


def _close(close: Callable[[], None], health: Health) -> None:
    try:
        close()
    except Exception as error:  # noqa: BLE001  it is opened anew all the same
        log.warning("sensor=%s cannot be closed: %s", health.name, error)
    log.debug("sensor=%s closed", health.name)
