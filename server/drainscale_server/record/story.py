"""What happened when: steps, cues, gaps. Pure."""

from collections.abc import Iterable, Sequence
from itertools import pairwise

from drainscale.procedure.cue_rules import REASONS
from drainscale.procedure.gates import GATE_BY_ID
from drainscale_server.record.answer import Answer, StepTold
from drainscale_server.record.model import CueTime, Gap, KitFault, StepTime
from drainscale_server.store.rows import CueRow, EventRow, FaultRow

ALL_SENSORS = "all sensors"


def steps_of(steps: Sequence[StepTold], end_s: float | None) -> list[StepTime]:
    """List the steps with how long each took; the last one until the end."""
    ends = [*(one.started_s for one in steps[1:]), end_s]
    return [
        StepTime(
            step=one.step,
            started_s=one.started_s,
            lasted_s=None if to_s is None else max(to_s - one.started_s, 0.0),
        )
        for one, to_s in zip(steps, ends, strict=False)
    ]


def cues_of(cues: Iterable[CueRow]) -> list[CueTime]:
    """List the cues with the sentence of each."""
    return [CueTime(t=one.t, cue=one.cue, reason=one.reason, text=_text(one)) for one in cues]


def _text(cue: CueRow) -> str:
    gate = GATE_BY_ID.get(cue.reason)
    return gate.ask if gate else REASONS.get(cue.reason, cue.reason)


def gaps_of(answer: Answer, events: Iterable[EventRow]) -> list[Gap]:
    """List the stretches without a value: of all sensors, and of each that was in fault."""
    gaps = [Gap(what=ALL_SENSORS, from_s=from_s, to_s=to_s) for from_s, to_s in answer.gaps]
    begun: dict[str, float] = {}
    for one in events:
        sensor = one.sensor or ""
        if one.event == "sensor-fault":
            begun.setdefault(sensor, one.t)
        elif one.event == "sensor-restored" and sensor in begun:
            gaps.append(Gap(what=sensor, from_s=begun.pop(sensor), to_s=one.t))
    gaps += [Gap(what=sensor, from_s=t, to_s=None) for sensor, t in begun.items()]
    return sorted(gaps, key=lambda gap: (gap.from_s, gap.what))


def faults_of(faults: Iterable[FaultRow]) -> list[KitFault]:
    """List the faults of the kit itself."""
    return [KitFault(t=one.t, code=one.code, text=one.text) for one in faults]


def spans_of(
    steps: Sequence[StepTold], names: Sequence[str], end_s: float
) -> list[tuple[float, float]]:
    """Give from and to of each step of these names."""
    if not steps:
        return []
    spans = [(one, after.started_s) for one, after in pairwise(steps)]
    spans.append((steps[-1], max(end_s, steps[-1].started_s)))
    return [(one.started_s, to_s) for one, to_s in spans if one.step in names]
