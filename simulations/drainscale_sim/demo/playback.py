"""Feed a recording into the core, piece by piece, and keep what it tells."""

from collections.abc import Sequence
from typing import Protocol

from drainscale.quantities.samples import Sample
from drainscale_sim.demo.course import Course
from drainscale_sim.demo.snapshot import Snapshot, Told


class MeasuringCore(Protocol):
    """What the demo needs of the core."""

    def feed(self, sample: Sample) -> Sequence[Told]:
        """Take one sample; return the events that it brings."""

    def snapshot(self, t: float) -> Snapshot:
        """Return the figures at ``t``, not before the last sample."""


class Playback(Course):
    """A recording on its way through the core."""

    def __init__(self, core: MeasuringCore, samples: Sequence[Sample]) -> None:
        super().__init__()
        self._core = core
        self._samples = samples
        self._next = 0
        # the core's time begins with its first sample: look at it only then
        self.advance(samples[0].t if samples else 0.0)

    @property
    def duration_s(self) -> float:
        """Length of the recording, s."""
        return self._samples[-1].t if self._samples else 0.0

    @property
    def is_over(self) -> bool:
        """Tell whether every sample has been fed."""
        return self._next >= len(self._samples)

    def advance(self, until_s: float) -> list[Told]:
        """Feed all samples up to ``until_s``; return the events they brought."""
        fresh: list[Told] = []
        while not self.is_over and self._samples[self._next].t <= until_s:
            sample = self._samples[self._next]
            self._next += 1
            self.t = sample.t
            fresh.extend(self._core.feed(sample))
        self.t = max(self.t, min(until_s, self.duration_s))
        self.told.extend(fresh)
        self.now = self._core.snapshot(self.t)
        self.keep_fluid()
        return fresh
