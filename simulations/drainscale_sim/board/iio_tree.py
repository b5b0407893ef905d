"""The kernel's tree of converters, with its own driver for the HX711 behind it.

Source: Linux, drivers/iio/adc/hx711.c: waits for up to 100 x 10 ms, restarts the converter, waits
as long again, then gives EIO; words come as offset binary.
"""

import errno
from collections.abc import Mapping
from pathlib import Path

from drainscale_sim.board.clock import BoardClock
from drainscale_sim.board.hx711_chip import Hx711Chip
from drainscale_sim.board.sysfs_path import sysfs_path

LOOKS, LOOK_S = 100, 0.010
PULSE_S = 1.25e-6  # half a period of the 400 kHz that the driver has where nothing is said
RESTART_S = 100e-6
RAW_FILE = "in_voltage0_raw"


class IioTree:
    """Keeps a folder as the kernel would, with a labelled device for each converter."""

    def __init__(self, root: Path, chips: Mapping[str, Hx711Chip], clock: BoardClock) -> None:
        self._clock = clock
        self._chips = {f"iio:device{n}": chip for n, chip in enumerate(chips.values())}
        self.next_texts: list[str] = []  # come in place of what a converter says, each once
        for device, label in zip(self._chips, chips, strict=True):
            folder = root / device
            folder.mkdir(parents=True)
            (folder / "name").write_text("hx711\n", encoding="ascii")
            (folder / "label").write_text(f"{label}\n", encoding="ascii")
            (folder / RAW_FILE).touch()
        self.path = sysfs_path(root, self._before_open)

    def _before_open(self, path: Path) -> None:
        if path.name == RAW_FILE and path.exists():
            raw = self._read(self._chips[path.parent.name])
            text = self.next_texts.pop(0) if self.next_texts else f"{raw}\n"
            path.write_text(text, encoding="ascii")

    def _read(self, chip: Hx711Chip) -> int:
        if not self._becomes_ready(chip):
            self._restart(chip)
            if not self._becomes_ready(chip):
                raise OSError(errno.EIO, "Input/output error")
        word = 0
        for pulse in range(25):
            t_s = self._clock.now_s()
            chip.clock(True, t_s)
            self._clock.spend(PULSE_S)
            if pulse < 24:
                word = word << 1 | chip.data(self._clock.now_s())
            chip.clock(False, self._clock.now_s())
            self._clock.spend(PULSE_S)
        return word ^ 0x800000

    def _becomes_ready(self, chip: Hx711Chip) -> bool:
        for _ in range(LOOKS):
            if not chip.data(self._clock.now_s()):
                return True
            self._clock.sleep(LOOK_S)
        return False

    def _restart(self, chip: Hx711Chip) -> None:
        chip.clock(True, self._clock.now_s())
        self._clock.spend(RESTART_S)
        chip.clock(False, self._clock.now_s())
