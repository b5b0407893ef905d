"""The gates, as data: what has to be true before the service goes on, and who says so.

Gates hold back cues and what the kit would do by itself. They never hold back the measurement:
what the sensors show is booked to its step, and a gate that was not answered by then is noted on
the record.

Sources: common practice of the trade, no source, unless a gate names one. The vehicle's service
information goes before all of them.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from drainscale.procedure.gate_facts import (
    Check,
    drained_is_back_in,
    engine_is_running,
    fluid_is_cold_enough,
    it_overflowed,
    target_is_in,
    volumes_are_recorded,
)
from drainscale.procedure.moments import HOLDS, Group, Moment
from drainscale.quantities.job import ProcedureLimits


class Units(StrEnum):
    """Which units a gate is for."""

    ALL = "all units"
    STANDPIPE = "units with a standpipe"
    FILL_PLUG = "units filled through a fill plug"
    CHECK_HOLE = "units filled through the check hole"

    def include(self, limits: ProcedureLimits) -> bool:
        """Tell whether the unit is one of these."""
        match self:
            case Units.STANDPIPE:
                return limits.level_method == "standpipe"
            case Units.FILL_PLUG:
                return limits.fill_via == "fill-plug"
            case Units.CHECK_HOLE:
                return limits.fill_via == "check-plug"
            case _:
                return True


class Override(StrEnum):
    """Whether a person's confirmation may stand in for what is measured."""

    IF_UNKNOWN = "a person confirms it only where it cannot be measured"
    ALWAYS = "a person may override it, noted on the record"


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer to a gate that asks for more than a tick."""

    key: str
    record: str
    """What the record says then."""


YES = Answer("yes", "confirmed")


@dataclass(frozen=True, slots=True)
class Gate:
    """One thing that has to be so before the service goes on."""

    id: str
    ask: str
    before: Moment
    units: Units = Units.ALL
    check: Check | None = None
    """Measured by this; None: a person ticks it."""
    override: Override = Override.IF_UNKNOWN
    """Of a measured gate only."""
    answers: tuple[Answer, ...] = (YES,)

    @property
    def group(self) -> Group:
        """Where it is answered."""
        return HOLDS[self.before].group

    @property
    def is_tick(self) -> bool:
        """Whether a person says so, rather than a sensor."""
        return self.check is None

    @property
    def is_question(self) -> bool:
        """Whether it has more than one answer, so that a press cannot give it."""
        return len(self.answers) > 1


PAN_OR_FILTER: tuple[Answer, ...] = (
    Answer("stays-on", "pan and filter stayed on"),
    Answer("weighed-apart", "oil in pan and filter weighed apart, not in the drained figure"),
    Answer("allowance-raised", "oil in pan and filter not weighed; allowance raised for it"),
    Answer("not-weighed", "oil in pan and filter not weighed"),
)

GATES: tuple[Gate, ...] = (
    Gate(
        "fill-plug-opens",
        "Open the fill plug first: a unit that cannot be filled must not be drained.",
        Moment.OPEN_DRAIN,
        Units.FILL_PLUG,
    ),
    Gate(
        "check-hole-opens",
        "Open the check plug first, container under it: the unit is filled through its hole.",
        Moment.OPEN_DRAIN,
        Units.CHECK_HOLE,
    ),
    Gate(
        "level-before-drain",
        "Vehicle level on the lift, lengthways and across.",
        Moment.OPEN_DRAIN,
    ),
    Gate(
        "pan-and-filter",
        "Will the pan or the filter come off? Their oil never reaches the scale: weigh it apart, "
        "or raise the allowance.",
        Moment.OPEN_DRAIN,
        answers=PAN_OR_FILTER,
    ),
    Gate(
        "standpipe-torqued",
        "Refit the standpipe to the service information's torque: it is often plastic, so low.",
        Moment.FILL,
        Units.STANDPIPE,
    ),
    Gate(
        "cold-enough",
        "Wait: the fluid has to be 5 K below the window before the engine starts. When it will "
        "be is shown.",
        Moment.START_ENGINE,
        check=fluid_is_cold_enough,
        override=Override.ALWAYS,
    ),
    Gate(
        "enough-back-in",
        "At least what was drained has to be back in before the engine starts.",
        Moment.START_ENGINE,
        Units.FILL_PLUG,
        check=drained_is_back_in,
    ),
    Gate(
        "overflowed-engine-off",
        "Fill until it overflows from the check hole, engine off.",
        Moment.START_ENGINE,
        Units.CHECK_HOLE,
        check=it_overflowed,
    ),
    Gate("brake-held", "Somebody holds the brake while shifting.", Moment.START_ENGINE),
    Gate("wheels-clear", "The driven wheels are clear of everything.", Moment.START_ENGINE),
    Gate(
        "nobody-under",
        "Nobody is under the vehicle while it is shifted through the gears.",
        Moment.START_ENGINE,
    ),
    Gate(
        "selector-park",
        "Selector in P, or as the service information says.",
        Moment.GO_UNDER,
    ),
    Gate("parking-brake", "Parking brake on.", Moment.GO_UNDER),
    Gate(
        "level-before-level",
        "Vehicle level on the lift again, lengthways and across.",
        Moment.GO_UNDER,
    ),
    Gate(
        "engine-idling",
        "Engine idling, from now until the plug is shut and torqued.",
        Moment.GO_UNDER,
        check=engine_is_running,
    ),
    Gate(
        "target-in",
        "Top up, engine running, until drained + allowance is in.",
        Moment.GO_UNDER,
        Units.CHECK_HOLE,
        check=target_is_in,
        override=Override.ALWAYS,
    ),
    Gate(
        "check-plug-torqued",
        "Level plug shut and torqued: only then the engine goes off.",
        Moment.STOP_ENGINE,
    ),
    Gate(
        "plugs-torqued",
        "Every plug that was opened is torqued to the service information.",
        Moment.END,
    ),
    Gate(
        "washers-renewed",
        "Every plug got a new sealing washer when it was shut for the last time; while it is "
        "still to be opened again it may keep the old one.",
        Moment.END,
    ),
    Gate("wiped-dry", "Wiped dry all round, so that a leak would show.", Moment.END),
    Gate(
        "volumes-recorded",
        "Drained, added and spilled volume stand on the record.",
        Moment.END,
        check=volumes_are_recorded,
        override=Override.ALWAYS,
    ),
    # Source of the container and its label: 40 CFR 279.22(b) and (c)(1).
    Gate(
        "used-oil-logged",
        "Used oil is in its sound, labelled container and logged.",
        Moment.END,
    ),
)

GATE_BY_ID: Mapping[str, Gate] = {gate.id: gate for gate in GATES}


def gates_of(limits: ProcedureLimits) -> tuple[Gate, ...]:
    """Choose the gates that this unit has, in the order in which they are asked."""
    return tuple(gate for gate in GATES if gate.units.include(limits))


def presses_of_a_clean_job(limits: ProcedureLimits) -> tuple[Moment, ...]:
    """List the moments at which a job without a hitch needs the foot switch.

    One press answers all that is asked at one moment. The list before the drain is answered on
    the board, where the job is begun anyway and the hands are still clean. What the sensors see
    (flow, fill, engine, warm-up, spill, shut plug) needs no press.
    """
    asked = {gate.before for gate in gates_of(limits) if gate.is_tick}
    return tuple(
        moment
        for moment, hold in HOLDS.items()
        if moment in asked and hold.group is not Group.BEFORE_DRAIN
    )
