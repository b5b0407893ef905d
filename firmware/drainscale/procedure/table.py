"""The procedure as two tables: what may follow what.

As much as possible is said here and as little as possible in ``machine.py``. Rules of the file:

- A step is what is done to the fluid, because the step decides where a weight is booked. So
  topping up with the engine running is ``refill`` again: the jug is on the platform, and what it
  loses was added. On units that are filled through the check hole this is the rule, not the
  exception: overflow with the engine off, engine start (``circulate``), then ``refill`` once more.
- A sensor leads forward, or round again (a new fill, a new spill). It leads *back* only out of a
  step that was itself inferred, never out of one that a person named.
- A person may name any step, forward or back: marks may be missing in part.
- What is not in the table is illegal and changes nothing. Nothing moves after ``done``.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from drainscale.procedure.events import (
    Aborted,
    Back,
    CoolDown,
    CoolingEnded,
    EngineStarted,
    FlowBegan,
    FluidGoingIn,
    Marked,
    ModeEvent,
    OutletShut,
    PanRose,
    Paused,
    PlugShut,
    Resumed,
    SecondFlowBegan,
    SpillBegan,
    StepEvent,
    TopUp,
    WorkEnded,
)
from drainscale.procedure.guards import (
    Guard,
    engine_has_run,
    no_standpipe_and_refit_was_inferred,
    seal_was_inferred,
    standpipe_and_refit_was_inferred,
    there_is_a_way_back,
    unit_has_a_standpipe,
    unit_has_that_step,
)
from drainscale.procedure.steps import Mode, Step


class Target(Enum):
    """Where a move leads if the table cannot name it."""

    NAMED = "the step that the event names"
    PREVIOUS = "the step before"


@dataclass(frozen=True, slots=True)
class Transition:
    """Where an event leads, and on which condition."""

    to: Step | Target
    guard: Guard | None = None


Row = Mapping[type[StepEvent], Transition]

ANYWHERE: Row = {
    Marked: Transition(Target.NAMED, unit_has_that_step),
    Back: Transition(Target.PREVIOUS, there_is_a_way_back),
}
"""In every row but the last."""

TABLE: Mapping[Step, Row] = {
    Step.PREPARE: {
        **ANYWHERE,
        # no engine start here: the vehicle was driven onto the lift. A flow or a mark is the only
        # way out, so no service is done in which nothing was weighed and nobody marked anything
        FlowBegan: Transition(Step.DRAIN),
    },
    Step.DRAIN: {
        **ANYWHERE,
        SecondFlowBegan: Transition(Step.DRAIN_PAN, unit_has_a_standpipe),
        OutletShut: Transition(Step.REFIT),
        FluidGoingIn: Transition(Step.REFILL),
    },
    Step.DRAIN_PAN: {
        **ANYWHERE,
        OutletShut: Transition(Step.REFIT),
        FluidGoingIn: Transition(Step.REFILL),
    },
    Step.REFIT: {
        **ANYWHERE,
        FlowBegan: Transition(Step.DRAIN, no_standpipe_and_refit_was_inferred),
        SecondFlowBegan: Transition(Step.DRAIN_PAN, standpipe_and_refit_was_inferred),
        FluidGoingIn: Transition(Step.REFILL),
        # a fill that nobody weighed is noticed by what comes after it
        EngineStarted: Transition(Step.CIRCULATE),
        PanRose: Transition(Step.WARM),
        CoolDown: Transition(Step.REFIT),
    },
    Step.REFILL: {
        **ANYWHERE,
        EngineStarted: Transition(Step.CIRCULATE),
        PanRose: Transition(Step.WARM),
        # overflow of the first fill through a check hole is no level check
        SpillBegan: Transition(Step.LEVEL, engine_has_run),
        CoolDown: Transition(Step.REFILL),
    },
    Step.CIRCULATE: {
        **ANYWHERE,
        TopUp: Transition(Step.REFILL),
        FluidGoingIn: Transition(Step.REFILL),
        PanRose: Transition(Step.WARM),
        SpillBegan: Transition(Step.LEVEL),
        CoolDown: Transition(Step.CIRCULATE),
    },
    Step.WARM: {
        **ANYWHERE,
        TopUp: Transition(Step.REFILL),
        FluidGoingIn: Transition(Step.REFILL),
        # ends a wait for the fluid to cool; the step is the same before and after
        EngineStarted: Transition(Step.WARM),
        SpillBegan: Transition(Step.LEVEL),
        CoolDown: Transition(Step.WARM),
    },
    Step.LEVEL: {
        **ANYWHERE,
        TopUp: Transition(Step.REFILL),
        FluidGoingIn: Transition(Step.REFILL),
        PlugShut: Transition(Step.SEAL),
        # ends the attempt
        CoolDown: Transition(Step.WARM),
    },
    Step.SEAL: {
        **ANYWHERE,
        TopUp: Transition(Step.REFILL),
        FluidGoingIn: Transition(Step.REFILL),
        SpillBegan: Transition(Step.LEVEL, seal_was_inferred),
        # an attempt that failed, cooled down, and warmed once more without a word
        PanRose: Transition(Step.WARM, seal_was_inferred),
        CoolDown: Transition(Step.WARM),
        WorkEnded: Transition(Step.DONE),
    },
    Step.DONE: {},
}

MODES: Mapping[Mode, Mapping[type[ModeEvent], Mode]] = {
    Mode.WORKING: {
        CoolDown: Mode.COOLING,
        Paused: Mode.PAUSED,
        Aborted: Mode.ABORTED,
    },
    Mode.COOLING: {
        CoolingEnded: Mode.WORKING,
        Paused: Mode.PAUSED,
        Aborted: Mode.ABORTED,
    },
    Mode.PAUSED: {
        # also after a wait that was interrupted: the gate before the engine start asks anyway
        Resumed: Mode.WORKING,
        Aborted: Mode.ABORTED,
    },
    Mode.ABORTED: {},
}
"""Beside this, every step event that is legal ends a pause or a wait: somebody is at work."""
