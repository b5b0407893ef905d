"""What goes into one commit: samples gathered into packs, the rest between them. Pure.

Order is kept: what came after a sample stands after its pack.
"""

from dataclasses import dataclass

from drainscale.messages.records import Body, JobClosed, JobOpened, ResultFormed, Samples
from drainscale.quantities.samples import Sample

# A commit waits for the disk, some 5 ms on an SSD and 100 ms on a poor card; what is not yet
# committed is lost to a kill.
PACK_N = 100
PACK_S = 1.0

_AT_ONCE = (JobOpened, ResultFormed, JobClosed)


@dataclass(frozen=True, slots=True)
class Entry:
    """One message to be: everything but its number."""

    job: str | None
    body: Body


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch of a job that nobody saw, s after its base time."""

    from_s: float
    to_s: float


@dataclass(frozen=True, slots=True)
class RunningJob:
    """The job that samples belong to."""

    job: str
    opened: JobOpened


class Batches:
    """Gathers what is to be committed next."""

    def __init__(self, running: RunningJob | None = None) -> None:
        self._running = running
        self._entries: list[Entry] = []
        self._samples: list[Sample] = []
        self._first_t: float | None = None
        self._is_urgent = False

    @property
    def running(self) -> RunningJob | None:
        """The job that is open, as far as it was put here."""
        return self._running

    @property
    def is_due(self) -> bool:
        """Whether to commit now: a full pack, a second of samples, or a job's border."""
        if self._is_urgent or not self._samples or self._first_t is None:
            return self._is_urgent
        return self._samples[-1].t - self._first_t >= PACK_S

    @property
    def is_empty(self) -> bool:
        """Whether there is nothing to commit."""
        return not self._entries and not self._samples

    def add(self, sample: Sample) -> None:
        """Take a sample of the running job.

        Raises:
            ValueError: No job is running.
        """
        if self._running is None:
            raise ValueError("a sample outside of a job")
        if self._first_t is None:
            self._first_t = sample.t
        self._samples.append(sample)
        if len(self._samples) >= PACK_N:
            self._close_pack()
            self._is_urgent = True

    def put(self, body: Body) -> None:
        """Take any other message; the running job is its job.

        Raises:
            ValueError: A job is begun while one is running, or closed while none is.
        """
        if isinstance(body, JobOpened):
            raise ValueError("a job begins by begin_job")
        if isinstance(body, JobClosed) and self._running is None:
            raise ValueError("no job is running")
        self._close_pack()
        self._entries.append(Entry(self._running.job if self._running else None, body))
        self._is_urgent = self._is_urgent or isinstance(body, _AT_ONCE)
        if isinstance(body, JobClosed):
            self._running = None

    def begin_job(self, running: RunningJob) -> None:
        """Open a job; what follows belongs to it.

        Raises:
            ValueError: Another one is running.
        """
        if self._running is not None:
            raise ValueError(f"job {self._running.job} is still running")
        self._entries.append(Entry(running.job, running.opened))
        self._running = running
        self._is_urgent = True

    def take(self) -> list[Entry]:
        """Hand out what is to be committed, and begin anew."""
        self._close_pack()
        entries, self._entries = self._entries, []
        self._first_t = None
        self._is_urgent = False
        return entries

    def _close_pack(self) -> None:
        if self._samples and self._running is not None:
            self._entries.append(Entry(self._running.job, pack_of(self._running, self._samples)))
            self._samples = []


def pack_of(running: RunningJob, samples: list[Sample]) -> Samples:
    """Make the body that samples of a job travel in."""
    return Samples(
        base_time_s=running.opened.base_time_s,
        is_clock_set=running.opened.is_clock_set,
        samples=tuple(samples),
    )
