"""The flow as the core told it, second by second: an answer holds none, so it is heard again."""

from math import inf, nan

from drainscale.core import Service
from drainscale.recording.job_file import read_job
from drainscale.recording.senml import read_recording
from drainscale_sim.score.replays import Case

EVERY_S = 1.0

Told = list[tuple[float, float]]


def told_flow(case: Case) -> Told:
    """Play a recording to a listener that asks for the flow of the moment.

    Returns:
        Times, s, and the flow at them, mL/min, causally; NaN while the core told none.

    Raises:
        InputError: The recording or its job cannot be read.
    """
    service = Service(read_job(case.job))
    told, due_s = [], -inf
    for sample in read_recording(case.recording).samples:
        service.feed(sample)
        if sample.t >= due_s:
            due_s = sample.t + EVERY_S
            flow = service.live().flow_mL_per_min
            told.append((sample.t, nan if flow is None else flow))
    return told
