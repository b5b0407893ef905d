"""The moments that gates stand before, and what the gates of each moment hold back."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from drainscale.procedure.cue_facts import CueName
from drainscale.procedure.steps import Step


class Group(StrEnum):
    """Where a gate is answered, so that touches stay few."""

    BEFORE_DRAIN = "before-drain"
    """One list on the board, with clean hands."""
    AT_STEP = "at-step"
    """One press of the foot switch answers all that is asked at that moment."""
    AFTER_SEAL = "after-seal"
    """One list on the board, or one press."""


class Moment(StrEnum):
    """What a gate stands before."""

    OPEN_DRAIN = "before the drain is opened"
    FILL = "before fluid goes in"
    START_ENGINE = "before the engine is started"
    GO_UNDER = "before anyone goes under to open the level plug"
    STOP_ENGINE = "before the engine is switched off"
    END = "before the job is closed"


@dataclass(frozen=True, slots=True)
class Hold:
    """What the gates of one moment hold back, and where they are asked."""

    group: Group
    asked_in: frozenset[Step]
    into: Step
    """The step that the kit does not enter by itself, and at whose entry the record is made up."""
    cues: frozenset[CueName] = frozenset()
    """Held back while the gates are asked."""
    engine_on: bool | None = None
    """Asked only with the engine on (True) or off (False); None: either way."""

    def is_asked(self, step: Step, *, is_engine_on: bool) -> bool:
        """Tell whether its gates are asked now."""
        return step in self.asked_in and self.engine_on in (None, is_engine_on)


# a topping up is a refill with the engine on; a wait for the fluid to cool is warm, engine off
_ABOUT_THE_ENGINE = frozenset({Step.REFILL, Step.CIRCULATE, Step.WARM})

HOLDS: Mapping[Moment, Hold] = {
    Moment.OPEN_DRAIN: Hold(
        Group.BEFORE_DRAIN,
        asked_in=frozenset({Step.PREPARE}),
        into=Step.DRAIN,
        cues=frozenset({CueName.GO_ON}),
    ),
    Moment.FILL: Hold(
        Group.AT_STEP,
        asked_in=frozenset({Step.REFIT, Step.REFILL}),
        into=Step.REFILL,
        cues=frozenset({CueName.GO_ON, CueName.ADD}),
    ),
    Moment.START_ENGINE: Hold(
        Group.AT_STEP,
        asked_in=_ABOUT_THE_ENGINE,
        into=Step.CIRCULATE,
        cues=frozenset({CueName.GO_ON}),
        engine_on=False,
    ),
    Moment.GO_UNDER: Hold(
        Group.AT_STEP,
        asked_in=_ABOUT_THE_ENGINE,
        into=Step.LEVEL,
        cues=frozenset({CueName.OPEN}),
        engine_on=True,
    ),
    Moment.STOP_ENGINE: Hold(
        Group.AT_STEP,
        asked_in=frozenset({Step.SEAL}),
        into=Step.DONE,
        cues=frozenset({CueName.GO_ON}),
    ),
    Moment.END: Hold(Group.AFTER_SEAL, asked_in=frozenset({Step.SEAL}), into=Step.DONE),
}
