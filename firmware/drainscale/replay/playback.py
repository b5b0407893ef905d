"""Feeds a recording to the core, as fast as it takes it."""

from collections.abc import Callable

from drainscale.core import Result, Service
from drainscale.quantities.job import Job
from drainscale.recording.records import Recording

PROGRESS_EVERY = 2000  # samples

Progress = Callable[[int], None]


def play(recording: Recording, job: Job, progress: Progress | None = None) -> Result:
    """Replay a whole recording.

    Args:
        recording: What the sensors said.
        job: What the service was told beforehand.
        progress: Called now and then with the number of samples played.

    Returns:
        What the live bench would have answered at the end of this service.
    """
    service = Service(job)
    feed = service.feed
    for n, sample in enumerate(recording.samples, start=1):
        feed(sample)
        if progress is not None and n % PROGRESS_EVERY == 0:
            progress(n)
    return service.finish()
