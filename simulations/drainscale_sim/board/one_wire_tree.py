"""The kernel's tree of 1-Wire devices in a folder of its own, as ``w1_therm`` of Debian 12 has it.

Reading ``w1_slave`` makes the chip convert, which takes its time. A chip that does not answer
gives an empty file; after ten searches in vain the kernel takes its folder away, and the next
search that finds it brings it back.
"""

import shutil
from pathlib import Path

from drainscale_sim.board.clock import BoardClock
from drainscale_sim.board.max31850_chip import CONVERSION_S, Max31850Chip, check_byte
from drainscale_sim.board.sysfs_path import sysfs_path

DEVICE = "3b-0000001a2b3c"
SEARCH_S = 10.0
SEARCHES_IN_VAIN = 10


class OneWireTree:
    """Keeps the folder as the kernel would, with one converter on the bus."""

    def __init__(self, root: Path, chip: Max31850Chip, clock: BoardClock) -> None:
        self._chip, self._clock = chip, clock
        self._device = root / DEVICE
        self._last_answer_s = clock.now_s()
        self.is_cut = False  # the cable is out
        self.next_frames: list[bytes] = []  # come in place of what the chip says, each once
        root.mkdir(parents=True, exist_ok=True)
        (root / "w1_bus_master1").mkdir(exist_ok=True)
        self._write("")
        self.path = sysfs_path(root, self._before_open)
        self.end_search = clock.call_every(SEARCH_S, self._search)

    def _before_open(self, path: Path) -> None:
        """Let the chip convert, and write what the kernel would give."""
        if path.name != "w1_slave" or not path.exists():
            return
        self._clock.sleep(CONVERSION_S)
        frame = self._answer()
        if frame is None:
            self._write("")
            return
        self._last_answer_s = self._clock.now_s()
        self._write(_lines(frame))

    def _answer(self) -> bytes | None:
        if self.is_cut:
            return None
        frame = self._chip.frame(self._clock.now_s())
        return self.next_frames.pop(0) if self.next_frames and frame is not None else frame

    def _search(self) -> None:
        now_s = self._clock.now_s()
        if not self.is_cut and self._chip.frame(now_s) is not None:
            self._last_answer_s = now_s
            if not self._device.exists():
                self._write("")
        elif now_s - self._last_answer_s > SEARCHES_IN_VAIN * SEARCH_S:
            shutil.rmtree(self._device, ignore_errors=True)

    def _write(self, text: str) -> None:
        self._device.mkdir(exist_ok=True)
        fresh = self._device / "w1_slave.new"
        fresh.write_text(text, encoding="ascii")
        fresh.rename(self._device / "w1_slave")  # a reader sees the old or the new, never a half


def _lines(frame: bytes) -> str:
    shown = frame.hex(" ")
    verdict = "YES" if _check_fits(frame) else "NO"
    # as w1_therm of kernel 6.1 reckons it: bits 0 and 1 masked, so that a fault cannot be seen
    thousandths = int.from_bytes(bytes([frame[0] & 0xFC, frame[1]]), "little", signed=True) * 1000
    return f"{shown} : crc={frame[8]:02x} {verdict}\n{shown} t={thousandths // 16}\n"


def _check_fits(frame: bytes) -> bool:
    """Tell whether a frame's check byte fits."""
    return check_byte(frame[:8]) == frame[8]
