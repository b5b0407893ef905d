"""Which step the service is in, and when each began."""

from dataclasses import dataclass

from drainscale.procedure.events import PERSON_EVENTS, StepEvent
from drainscale.procedure.machine import Procedure
from drainscale.procedure.steps import Step
from drainscale.quantities.job import ProcedureLimits


@dataclass(slots=True)
class StepRecord:
    """One step, or a repetition of it."""

    step: Step
    started_s: float
    was_marked: bool


class StepLog:
    """Drives the procedure's table and dates its steps.

    An event that the table does not know here changes nothing: sensors and people both say
    things twice, or late.
    """

    def __init__(self, limits: ProcedureLimits) -> None:
        self.procedure = Procedure(limits)
        self.records: list[StepRecord] = []

    @property
    def step(self) -> Step:
        """The present step."""
        return self.procedure.step

    @property
    def place(self) -> int:
        """Place of the present step in the order of a service."""
        return self.procedure.step.place

    def begin(self, t: float) -> None:
        """The service begins, in its first step."""
        self.records.append(StepRecord(self.step, t, was_marked=False))

    def move(self, event: StepEvent, t: float) -> bool:
        """Apply an event dated ``t``; return whether another step begins by it."""
        if not self.procedure.allows(event):
            return False
        before = self.step
        after = self.procedure.apply(event)
        marked = isinstance(event, PERSON_EVENTS)
        if after is before:
            self.records[-1].was_marked |= marked
            return False
        # a boundary dated back may not come before the one that it follows
        started = max(t, self.records[-1].started_s) if self.records else t
        self.records.append(StepRecord(after, started, marked))
        return True

    def date(self, step: Step, t: float) -> None:
        """The sensors date the boundary of the latest record of ``step``."""
        for i in range(len(self.records) - 1, -1, -1):
            if self.records[i].step is step:
                earliest = self.records[i - 1].started_s if i else t
                self.records[i].started_s = max(t, earliest)
                for later in self.records[i + 1 :]:
                    later.started_s = max(later.started_s, self.records[i].started_s)
                return

    def started_s(self, step: Step) -> float | None:
        """When the latest record of ``step`` began."""
        for record in reversed(self.records):
            if record.step is step:
                return record.started_s
        return None

    def was_in(self, step: Step, from_t: float, to_t: float) -> bool:
        """Whether the service was in ``step`` at some time from ``from_t`` to ``to_t``."""
        ends = [*(one.started_s for one in self.records[1:]), float("inf")]
        return any(
            one.step is step and one.started_s <= to_t and end > from_t
            for one, end in zip(self.records, ends, strict=True)
        )

    def was_marked(self, step: Step) -> bool:
        """Whether the latest record of ``step`` was (also) named by a person."""
        for record in reversed(self.records):
            if record.step is step:
                return record.was_marked
        return False
