"""Where a service stands: all that the guards may look at, in one frozen record.

A move makes a new situation out of the old one, so an event that is refused has nothing to undo.
Everything but ``mode`` follows from what a recording holds.
"""

from dataclasses import dataclass

from drainscale.procedure.steps import Mode, Step
from drainscale.quantities.job import ProcedureLimits


@dataclass(frozen=True, slots=True)
class Situation:
    """Step, mode and what of the way here still matters."""

    limits: ProcedureLimits
    step: Step = Step.PREPARE
    mode: Mode = Mode.WORKING
    behind: tuple[Step, ...] = ()
    """The steps passed, oldest first; what ``Back`` goes through."""
    was_said: bool = False
    """A person named the present step; a sensor alone does not take that back."""
    has_evidence: bool = False
    """Something was weighed, or a person marked a step."""
    engine_has_run: bool = False
    """The engine was started in this service, as seen or as said."""
    attempts: int = 0
    """How many times ``level`` was entered."""

    @property
    def is_over(self) -> bool:
        """Whether nothing moves any more."""
        return self.step is Step.DONE or self.mode is Mode.ABORTED
