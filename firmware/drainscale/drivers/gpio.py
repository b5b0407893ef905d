"""Lamps, sounder and foot switch on the board's pins, over gpiozero."""

from collections import deque
from typing import Any

from drainscale.drivers.frames.foot_switch import Contacts, FootDebouncer
from drainscale.errors import SensorMissingError
from drainscale.pins import Pins
from drainscale.ports import LAMPS, Clock, FootEvent

HALF = 0.5  # a square wave is the loudest
REST_PITCH_Hz = 1000.0  # what the sounder's timer runs at while it is silent


class GpioChip:
    """The board's pins, opened once and lent to the devices on them."""

    def __init__(self) -> None:
        """Open the chip.

        Raises:
            SensorMissingError: No pins here, or no right to use them.
        """
        try:
            from gpiozero.pins.lgpio import LGPIOFactory

            self.factory: Any = LGPIOFactory()
        except Exception as error:  # lgpio's own class, gpiozero's, ImportError, PermissionError
            raise SensorMissingError(
                f"pins: cannot use the board's pins: {error}; is the user in the group gpio?"
            ) from error

    def close(self) -> None:
        """Let the pins go."""
        self.factory.close()


class GpioIndicator:
    """An ``Indicator``: four lamps behind MOSFETs, one sounder driven by a square wave."""

    def __init__(self, wiring: Pins, chip: GpioChip) -> None:
        from gpiozero import LED, PWMOutputDevice

        lamps = wiring.lamps()
        self._lamps: dict[str, Any] = {
            name: LED(lamps[name], pin_factory=chip.factory) for name in LAMPS
        }
        self._sounder: Any = PWMOutputDevice(
            wiring.sounder.drive, frequency=REST_PITCH_Hz, pin_factory=chip.factory
        )
        self._lit: frozenset[str] = frozenset()
        self._pitch_Hz: float | None = None
        self._is_closed = False

    def show(self, lit: frozenset[str]) -> None:
        """Light exactly these lamps; see ``Indicator.show``."""
        unknown = lit.difference(LAMPS)
        if unknown:
            raise ValueError(f"no lamp {sorted(unknown)}, there are {LAMPS}")
        # dark first: two lamps lit for an instant could be read as another cue
        for name in LAMPS:
            if name in self._lit - lit:
                self._lamps[name].off()
        for name in LAMPS:
            if name in lit - self._lit:
                self._lamps[name].on()
        self._lit = lit

    def sound(self, pitch_Hz: float | None) -> None:
        """Sound this pitch from now on, or be silent; see ``Indicator.sound``."""
        if pitch_Hz == self._pitch_Hz:
            return
        if pitch_Hz is None:
            self._sounder.value = 0.0
        else:
            self._sounder.frequency = pitch_Hz
            self._sounder.value = HALF
        self._pitch_Hz = pitch_Hz

    def close(self) -> None:
        """Lamps dark, sounder silent, pins free; twice does no harm."""
        if self._is_closed:
            return
        self.show(frozenset())
        self.sound(None)
        for device in (*self._lamps.values(), self._sounder):
            device.close()
        self._is_closed = True


class GpioFootSwitch:
    """A ``FootSwitch``: both contacts to ground, each change noted with its time as it comes.

    The time is asked for in the thread that reports the change; what it means is worked out in
    ``events``, for an exception in that thread would be lost.
    """

    def __init__(self, wiring: Pins, chip: GpioChip, clock: Clock) -> None:
        from gpiozero import DigitalInputDevice

        self._clock = clock
        self._debouncer = FootDebouncer()
        self._changes: deque[Contacts] = deque(maxlen=1000)
        self._devices: list[Any] = []
        for bcm in (wiring.foot_switch.closes, wiring.foot_switch.opens):
            device: Any = DigitalInputDevice(bcm, pull_up=True, pin_factory=chip.factory)
            self._devices.append(device)
        for device in self._devices:
            device.when_activated = device.when_deactivated = self._note
        self._note()

    def events(self) -> tuple[FootEvent, ...]:
        """Return what happened since the last call; see ``FootSwitch.events``."""
        self._note()
        found: list[FootEvent] = []
        while self._changes:
            found += self._debouncer.see(self._changes.popleft())
        return tuple(found)

    def close(self) -> None:
        """Let the pins go; twice does no harm."""
        for device in self._devices:
            device.close()
        self._devices = []

    def _note(self) -> None:
        if self._devices:
            closes, opens = (bool(device.is_active) for device in self._devices)
            self._changes.append(Contacts(self._clock.now_s(), closes, opens))
