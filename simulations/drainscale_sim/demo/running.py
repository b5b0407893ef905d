"""A service that runs in closed loop elsewhere, followed by the lines that its kit tells."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from drainscale_sim.demo.course import Course, Signals
from drainscale_sim.demo.snapshot import Snapshot, Told
from drainscale_sim.demo.telling import Ended, Report, read
from drainscale_sim.demo.words import FOOT


class Running(Course):
    """A service as far as its kit has told it, and as far as it is shown.

    Args:
        lines: What the kit's process says; it ends where that does.
        about_s: How long such a service takes, s.
    """

    is_length_known = False

    def __init__(self, lines: Iterable[bytes], about_s: float) -> None:
        super().__init__()
        self._lines, self._about_s = iter(lines), about_s
        self.signals: Signals = Signals()
        self.now = Snapshot(t=0.0, step="prepare", cue="wait")
        self.answer: dict[str, Any] | None = None  # the record, once the kit has told it
        self.is_done = False
        self._ahead: Report | None = None
        self._read_on([])

    @property
    def duration_s(self) -> float:
        """How long it may take, s; what it took, when it is over."""
        return self.t if self.is_over else max(self._about_s, self.t)

    @property
    def is_over(self) -> bool:
        """Tell whether all that the kit told is shown."""
        return self._ahead is None

    def advance(self, until_s: float) -> list[Told]:
        """Show all that was told up to ``until_s``; wait where the kit has not come so far."""
        fresh: list[Told] = []
        while self._ahead is not None and self._ahead.now.t <= until_s:
            report = self._ahead
            if report.now.cue != self.now.cue:
                self.signals.lit_s.clear()  # what flashed for the cue before
            self.now = report.now
            fresh += report.told + self._presses(report.presses)
            self.signals.see(self.now.t, report.lit, is_sounding=report.is_sounding)
            self.signals.presses += report.presses
            self.keep_fluid()
            self._read_on(fresh)
        self.t = self.now.t if self.is_over else max(self.t, until_s)
        self.told += fresh
        return fresh

    def _read_on(self, fresh: list[Told]) -> None:
        self._ahead = None
        text = next(self._lines, None)
        if text is None:
            return
        line = read(text)
        if isinstance(line, Report):
            self._ahead = line
        else:
            self._end(line, fresh)

    def _end(self, line: Ended, fresh: list[Told]) -> None:
        self.answer, self.is_done = line.answer, line.is_done
        fresh += line.told + self._presses(line.presses)
        self.signals.presses += line.presses
        if line.is_done:
            told_s = [self.now.t, *(event.t for event in line.told)]
            # the figures stay as they were
            self.now = replace(self.now, t=max(told_s), step="done")

    def _presses(self, count: int) -> tuple[Told, ...]:
        return (Told(self.now.t, FOOT, self.now.step),) * count
