"""Processor time that the measuring core takes for each kind of sample."""

import gc
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from time import process_time

from drainscale.core import Service
from drainscale.quantities.job import Job
from drainscale.quantities.samples import Sample


@dataclass(frozen=True, slots=True)
class Cost:
    """Time for ``n`` samples of a kind, all that hangs on them included."""

    n: int
    total_s: float

    @property
    def each_s(self) -> float:
        """Mean time of one sample."""
        return self.total_s / self.n


def sample_costs(samples: Sequence[Sample], job: Job) -> dict[str, Cost]:
    """Feed a service to the core, the clock read between samples of different kinds.

    What is due every half second (ticks, forecasts) is done with whatever sample comes then:
    mostly one of the scale's, whose mean therefore holds it.
    """
    runs = [(kind.__name__, list(run)) for kind, run in groupby(samples, type)]
    taken: defaultdict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])
    gc.freeze()  # the samples are the caller's, and live as long as all of this
    service = Service(job)
    feed = service.feed
    for kind, run in runs:
        started_s = process_time()
        for sample in run:
            feed(sample)
        taken[kind][0] += len(run)
        taken[kind][1] += process_time() - started_s
    gc.unfreeze()
    return {kind: Cost(int(n), total_s) for kind, (n, total_s) in taken.items()}
