"""What the packages find in place of the module ``lgpio``: the same calls on simulated pins."""

from collections.abc import Callable
from types import ModuleType
from typing import Any

from drainscale_sim.board.lines import BOTH, FALLING, PULL_DOWN, PULL_NONE, PULL_UP, RISING, Lines

_CONSTANTS = {
    "SET_ACTIVE_LOW": 4, "SET_OPEN_DRAIN": 8, "SET_OPEN_SOURCE": 16,
    "SET_PULL_UP": PULL_UP, "SET_PULL_DOWN": PULL_DOWN, "SET_PULL_NONE": PULL_NONE,
    "RISING_EDGE": RISING, "FALLING_EDGE": FALLING, "BOTH_EDGES": BOTH,
}  # fmt: skip
BAD_HANDLE, BAD_GPIO_NUMBER, CANNOT_OPEN_CHIP = -5, -73, -78
GPIO_BUSY, GPIO_NOT_ALLOCATED, NOT_AN_OUTPUT, BAD_PWM_FREQ = -79, -80, -104, -102
_TEXTS = {
    BAD_HANDLE: "unknown handle",
    BAD_GPIO_NUMBER: "bad GPIO number",
    CANNOT_OPEN_CHIP: "can not open gpiochip",
    GPIO_BUSY: "GPIO busy",
    GPIO_NOT_ALLOCATED: "GPIO not allocated",
    NOT_AN_OUTPUT: "GPIO not set as an output",
    BAD_PWM_FREQ: "bad PWM frequency",
}
_PULLS = PULL_UP | PULL_DOWN | PULL_NONE
_IN_USE, _OUT, _LG_INPUT, _LG_OUTPUT, _LG_ALERT = 0x1, 0x2, 0x100, 0x200, 0x400
_EDGES_AT = 17  # where the kernel's edge bits begin


class LgpioError(Exception):
    """``lgpio.error``, which says its text in quotes."""

    def __init__(self, value: str) -> None:
        super().__init__(value)
        self.value = value

    def __str__(self) -> str:
        return repr(self.value)


class _Callback:
    def __init__(self, lines: Lines, entry: tuple[int, int, int, Callable[..., object]]) -> None:
        self._lines, self._entry = lines, entry
        lines.callbacks.append(entry)

    def cancel(self) -> None:
        if self._entry in self._lines.callbacks:
            self._lines.callbacks.remove(self._entry)


class LgpioCalls:
    """The functions of ``lgpio`` over the pins of one board; names and numbers as there."""

    def __init__(self, lines: Lines, *, chips: tuple[int, ...] = (0,)) -> None:
        self._lines = lines
        self._chips = chips
        self._handles: set[int] = set()

    def gpiochip_open(self, chip: int) -> int:
        """Open a chip."""
        if chip not in self._chips:
            _fail(CANNOT_OPEN_CHIP)
        handle = max(self._handles, default=-1) + 1
        self._handles.add(handle)
        return handle

    def gpiochip_close(self, handle: int) -> int:
        """Close it; its pins are let go."""
        self._check(handle)
        for bcm, line in enumerate(self._lines.lines):
            if line.owner == handle:
                self._lines.free(bcm)
        self._handles.discard(handle)
        return 0

    def gpio_get_chip_info(self, handle: int) -> list[object]:
        """Return status, number of lines, name and label."""
        self._check(handle)
        return [0, len(self._lines.lines), "gpiochip0", "simulated"]

    def gpio_claim_input(self, handle: int, bcm: int, flags: int = 0) -> int:
        """Make a pin an input."""
        line = self._own(handle, bcm)
        line.pull = flags & _PULLS or line.pull
        self._lines.claim(bcm, handle, is_output=False)
        return 0

    def gpio_claim_output(self, handle: int, bcm: int, level: int = 0, flags: int = 0) -> int:
        """Make a pin an output."""
        line = self._own(handle, bcm)
        line.pull = flags & _PULLS or line.pull
        self._lines.claim(bcm, handle, is_output=True, level=bool(level))
        return 0

    def gpio_claim_alert(self, handle: int, bcm: int, edges: int, flags: int = 0) -> int:
        """Make a pin an input that tells of its edges."""
        line = self._own(handle, bcm)
        line.pull = flags & _PULLS or line.pull
        self._lines.claim(bcm, handle, is_output=False)
        line.is_alert, line.edges = True, edges
        line.reported = self._lines.level(bcm)
        return 0

    def gpio_free(self, handle: int, bcm: int) -> int:
        """Let a pin go."""
        self._own(handle, bcm, needs_claim=True)
        self._lines.free(bcm)
        return 0

    def gpio_get_mode(self, handle: int, bcm: int) -> int:
        """Return the bits that say what the pin is."""
        self._check(handle)
        line = self._lines.lines[bcm]
        mode = line.pull & _PULLS
        if line.is_output:
            mode |= _OUT
        if line.owner is not None:
            mode |= _IN_USE
        if line.owner == handle:
            mode |= _LG_OUTPUT if line.is_output else _LG_ALERT if line.is_alert else _LG_INPUT
        return mode | line.edges << _EDGES_AT

    def gpio_read(self, handle: int, bcm: int) -> int:
        """Return the level of a pin."""
        self._check(handle)
        return int(self._lines.read(bcm))

    def gpio_write(self, handle: int, bcm: int, level: int) -> int:
        """Drive a pin."""
        if not self._own(handle, bcm, needs_claim=True).is_output:
            _fail(NOT_AN_OUTPUT)
        self._lines.write(bcm, bool(level))
        return 0

    def tx_pwm(
        self, handle: int, bcm: int, frequency_Hz: float, duty_percent: float, *_more: int
    ) -> int:
        """Start a square wave; 0 Hz ends it."""
        self._own(handle, bcm, needs_claim=True)
        if frequency_Hz and not 0.1 <= frequency_Hz <= 10_000:
            _fail(BAD_PWM_FREQ)
        self._lines.set_pwm(bcm, (frequency_Hz, duty_percent) if frequency_Hz else None)
        return 0

    def gpio_set_debounce_micros(self, handle: int, bcm: int, debounce_us: int) -> int:
        """Have alerts told only once the level has stood for so long."""
        self._check(handle)
        self._lines.lines[bcm].debounce_s = debounce_us * 1e-6
        return 0

    def callback(
        self, handle: int, bcm: int, edge: int = RISING, func: Callable[..., object] | None = None
    ) -> _Callback:
        """Have a function called at each edge of an alert."""
        return _Callback(self._lines, (handle, bcm, edge, func or (lambda *_: None)))

    def _check(self, handle: int) -> None:
        if handle not in self._handles:
            _fail(BAD_HANDLE)

    def _own(self, handle: int, bcm: int, *, needs_claim: bool = False) -> Any:
        self._check(handle)
        if not 0 <= bcm < len(self._lines.lines):
            _fail(BAD_GPIO_NUMBER)
        line = self._lines.lines[bcm]
        if needs_claim and line.owner is None:
            _fail(GPIO_NOT_ALLOCATED)
        if line.owner not in (None, handle):
            _fail(GPIO_BUSY)
        return line


def lgpio_module(calls: LgpioCalls) -> ModuleType:
    """Make the module."""
    module = ModuleType("lgpio", "A stand-in for lgpio on simulated pins.")
    for name, value in _CONSTANTS.items():
        setattr(module, name, value)
    for name in dir(calls):
        if not name.startswith("_"):
            setattr(module, name, getattr(calls, name))
    vars(module).update(
        error=LgpioError, error_text=_error_text, GPIO_BUSY=GPIO_BUSY, exceptions=True
    )
    return module


def _error_text(number: int) -> str:
    return _TEXTS.get(number, f"error {number}")


def _fail(number: int) -> None:
    raise LgpioError(_error_text(number))
