"""The load cell's converter clocked by the SPI peripheral: exact pulses whatever the system does.

The converter powers down if its clock is high for 60 us. A program that moves the pin itself is
held up for longer now and then; the peripheral never is. Works on every Pi with SPI switched on.
"""

import logging
from typing import Protocol

from drainscale.drivers.frames import hx711 as frames
from drainscale.drivers.frames.conversions import ConversionGuard
from drainscale.drivers.paths import BoardPaths
from drainscale.errors import FrameError, SensorError, SensorMissingError
from drainscale.pins import ScalePins
from drainscale.ports import Clock

log = logging.getLogger(__name__)

POLL_S = 0.001  # how exactly a sample's time is known


class _Bus(Protocol):
    def xfer2(self, values: list[int], speed_hz: int) -> list[int]: ...
    def close(self) -> None: ...


class SpiLoadCell:
    """A ``LoadCell`` on an SPI bus of its own.

    After a frame that is invalid the converter may be out of step, or on another channel: it is
    started anew and its first conversions are dropped, as at opening.
    """

    way = "spi"

    def __init__(self, name: str, wiring: ScalePins, clock: Clock, paths: BoardPaths) -> None:
        """Open the bus and start the converter.

        Raises:
            SensorMissingError: No such bus, or no right to use it.
        """
        self.frames_dropped = 0
        self._name = name
        self._clock = clock
        self._bus: _Bus | None = _open_bus(name, wiring, paths)
        self._guard = ConversionGuard()
        self._restart()

    def read(self, timeout_s: float) -> int | None:
        """Wait for the next conversion and return its count; see ``LoadCell.read``."""
        end_s = self._clock.now_s() + timeout_s
        self._clock.sleep(min(self._guard.quiet_until_s(), end_s) - self._clock.now_s())
        while True:
            count = self._fetch() if self._is_ready() else None
            if count is not None:
                return count
            left_s = end_s - self._clock.now_s()
            if left_s <= 0.0:
                return None
            self._clock.sleep(min(POLL_S, left_s))

    def close(self) -> None:
        """Let the bus go; twice does no harm."""
        if self._bus is not None:
            self._bus.close()
            self._bus = None

    def _is_ready(self) -> bool:
        is_ready = frames.is_ready(self._transfer(frames.READY_PROBE_OUT, frames.CLOCK_Hz))
        if not is_ready:
            self._guard.idle(self._clock.now_s())
        return is_ready

    def _fetch(self) -> int | None:
        """Clock a conversion out; None if it is not to be used."""
        if self._guard.is_suspect():
            self._drop("it comes after a pause, as after a stray pulse")
            return None
        try:
            count = frames.decode(self._transfer(frames.PULSES_OUT, frames.CLOCK_Hz))
        except FrameError as error:
            self._drop(str(error))
            return None
        return count if self._guard.is_usable(self._clock.now_s()) else None

    def _drop(self, reason: str) -> None:
        self.frames_dropped += 1
        log.debug("frame-dropped scale=%s reason=%r", self._name, reason)
        self._restart()

    def _restart(self) -> None:
        self._transfer(frames.RESTART_OUT, frames.RESTART_CLOCK_Hz)
        self._guard.restarted()

    def _transfer(self, out: bytes, clock_Hz: int) -> list[int]:
        if self._bus is None:
            raise SensorError(f"{self._name} scale: was closed")
        try:
            return self._bus.xfer2(list(out), clock_Hz)
        except OSError as error:
            raise SensorError(f"{self._name} scale: the SPI bus fails: {error}") from error


def _open_bus(name: str, wiring: ScalePins, paths: BoardPaths) -> _Bus:
    bus, device = wiring.spi_bus, wiring.spi_device
    node = paths.devices / f"spidev{bus}.{device}"
    if not node.exists():
        overlay = "dtparam=spi=on" if bus == 0 else f"dtoverlay=spi{bus}-1cs"
        raise SensorMissingError(f"{name} scale: no {node}; switch SPI{bus} on with {overlay}")
    try:
        import spidev
    except ImportError as error:
        raise SensorMissingError(f"{name} scale: the package spidev is missing") from error
    opened = spidev.SpiDev()
    try:
        opened.open(bus, device)
        opened.mode = 0b00  # the data line is sampled half a bit after the clock line moved
    except OSError as error:
        raise SensorMissingError(f"{name} scale: cannot use {node}: {error}") from error
    found: _Bus = opened
    return found
