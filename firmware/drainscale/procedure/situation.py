"""Where a service stands: all that the guards may look at, in one frozen record.

A move makes a new situation out of the old one, so an event that is refused has nothing to undo.
Everything but ``mode`` and ``is_engine_on`` follows from what a recording holds, so these two
decide about cues and gates only.
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
    engine_has_run: bool = False
    """The engine was started in this service, as seen or as said."""
    is_engine_on: bool = False
    """As far as steps and events tell; a wait for the fluid to cool switches it off. No guard
    looks at it, for a recording does not hold it."""
    attempts: int = 0
    """How many times ``level`` was entered."""

    @property
    def is_over(self) -> bool:
        """Whether nothing moves any more."""
        return self.step is Step.DONE or self.mode is Mode.ABORTED

    @property
    def is_standing(self) -> bool:
        """Whether the engine stands since a wait for the fluid to cool was asked for."""
        return self.step in (Step.CIRCULATE, Step.WARM) and not self.is_engine_on

    @property
    def awaits_restart(self) -> bool:
        """Whether a wait for the fluid to cool is over and the engine not on again."""
        return self.is_standing and self.mode is Mode.WORKING
