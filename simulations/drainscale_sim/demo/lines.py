"""The demo without a terminal: a line an event, a cue, a caution, and one a minute."""

from collections.abc import Iterator, Sequence

from drainscale.signals.vocabulary import vocabulary
from drainscale_sim.demo.course import Course
from drainscale_sim.demo.guide import cautions_now, guide
from drainscale_sim.demo.snapshot import Snapshot, Told
from drainscale_sim.demo.words import celsius, clock, event_words, flow, litres

MINUTE_S = 60.0


class LineTeller:
    """Says what is new since it was asked last."""

    def __init__(self) -> None:
        self._step = ""
        self._cue = ""
        self._minute_s = MINUTE_S

    def lines(self, course: Course, fresh: Sequence[Told]) -> Iterator[str]:
        """Return the lines that tell what has happened."""
        now = course.now
        for event in fresh:
            words = event_words(event.event, event.sensor)
            yield f"{clock(event.t):>6}  {event.step:<9}  {words}"
        if now.step != self._step:
            self._step = now.step
            yield from _step_lines(now)
        if now.cue != self._cue:
            self._cue = now.cue
            yield _cue_line(now)
        if course.t >= self._minute_s:
            self._minute_s = MINUTE_S * (course.t // MINUTE_S + 1.0)
            yield _minute_line(now)


def _step_lines(now: Snapshot) -> Iterator[str]:
    yield f"{clock(now.t):>6}  STEP {now.step}: {guide().now[now.step]}"
    for caution in cautions_now(now):
        yield f"{'':6}  caution: {caution.text}"


def _cue_line(now: Snapshot) -> str:
    cue = vocabulary().cues[now.cue]
    return (
        f"{clock(now.t):>6}  CUE {cue.word} ({cue.lamp} lamp, {cue.pattern}): {now.why or cue.text}"
    )


def _minute_line(now: Snapshot) -> str:
    added = f"added {litres(now.added_L)}"
    if now.target_L is not None:
        added += f" of {now.target_L:.3f}"
    return (
        f"{clock(now.t):>6}  {now.step:<9}  drained {litres(now.drained_L, now.U_drained_L)} | "
        f"{added} | flow {flow(now.flow_mL_per_min)} | fluid {celsius(now.fluid_C, now.U_fluid_K)}"
    )
