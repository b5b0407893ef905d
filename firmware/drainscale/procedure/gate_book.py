"""Who answered which gate, what is still open, and what the record says about it."""

from dataclasses import dataclass
from enum import StrEnum

from drainscale.errors import ProcedureError
from drainscale.procedure.cue_facts import CueName
from drainscale.procedure.gate_facts import GateFacts
from drainscale.procedure.gates import GATE_BY_ID, YES, Answer, Gate, Override, gates_of
from drainscale.procedure.moments import HOLDS, Moment
from drainscale.procedure.steps import Step
from drainscale.quantities.job import ProcedureLimits

_ASKED_AGAIN = frozenset({Moment.START_ENGINE, Moment.GO_UNDER, Moment.STOP_ENGINE, Moment.END})


class Outcome(StrEnum):
    """How it stands with a gate."""

    UNANSWERED = "unanswered"
    """Holds back what it stands before."""
    TICKED = "ticked"
    MEASURED = "measured"
    CONFIRMED = "confirmed, not measured"
    OVERRIDDEN = "overridden"
    """Measured to be otherwise, and confirmed all the same."""
    LATE = "answered afterwards"


@dataclass(frozen=True, slots=True)
class GateNote:
    """A line of the record: how it stood with a gate when its step was entered."""

    gate_id: str
    step: Step
    outcome: Outcome
    answer: Answer | None = None


class GateBook:
    """The gates of one service.

    Ticks are record data: they hold back cues and what the kit does by itself, and change no
    measured answer.

    Args:
        limits: What kind of unit it is, and its window.

    Example:
        >>> book = GateBook(ProcedureLimits("standpipe", (35.0, 45.0), 0.6, 60.0, 3.0))
        >>> [gate.id for gate in book.holds_back(Step.REFILL, GateFacts(step=Step.REFIT))]
        ['standpipe-torqued']
        >>> book.tick("standpipe-torqued")
        >>> book.holds_back(Step.REFILL, GateFacts(step=Step.REFIT))
        []
    """

    def __init__(self, limits: ProcedureLimits) -> None:
        self._limits = limits
        self._answers: dict[str, Answer] = {}
        self._noted: dict[str, GateNote] = {}
        self._notes: list[GateNote] = []
        self.gates = gates_of(limits)

    @property
    def has_standpipe(self) -> bool:
        """Whether the unit has a standpipe to take out and refit."""
        return self._limits.level_method == "standpipe"

    @property
    def notes(self) -> tuple[GateNote, ...]:
        """What the record says about the gates, in order of time."""
        return tuple(self._notes)

    def tick(self, gate_id: str, answer: str = YES.key) -> None:
        """Answer a gate. On a measured gate this confirms or overrides, as far as it may.

        Raises:
            ProcedureError: This unit has no such gate, or the gate no such answer.
        """
        gate = self._gate(gate_id)
        given = next((a for a in gate.answers if a.key == answer), None)
        if given is None:
            allowed = ", ".join(a.key for a in gate.answers)
            raise ProcedureError(f"gate {gate_id}: answer {answer!r} is none of {allowed}")
        self._answers[gate_id] = given
        noted = self._noted.get(gate_id)
        if noted is not None and noted.outcome is Outcome.UNANSWERED:
            self._note(GateNote(gate_id, noted.step, Outcome.LATE, given))

    def take_back(self, gate_id: str) -> None:
        """Take an answer back; one that was not given stays so.

        Raises:
            ProcedureError: This unit has no such gate.
        """
        self._answers.pop(self._gate(gate_id).id, None)

    def press(self, facts: GateFacts) -> list[Gate]:
        """Answer with one press all that is asked now and that a press may answer.

        A press ticks, and confirms what cannot be measured. It overrides nothing that was
        measured to be otherwise and chooses between no answers: both have to be meant.

        Returns:
            The gates that were answered by it.
        """
        answered = [gate for gate in self.asked(facts) if self._may_press(gate, facts)]
        for gate in answered:
            self.tick(gate.id)
        return answered

    def asked(self, facts: GateFacts) -> list[Gate]:
        """List what is asked in the present step: the open gates of the first moment with any."""
        for moment, hold in HOLDS.items():
            if hold.is_asked(facts.step, is_engine_on=facts.is_engine_on):
                still_open = self._open(moment, facts)
                if still_open:
                    return still_open
        return []

    def holds_back(self, what: Step | CueName, facts: GateFacts) -> list[Gate]:
        """List the open gates that keep the kit from a step of its own, or from a cue.

        Args:
            what: The step to enter, or the cue to give.
            facts: What is known now, the present step among it.
        """
        held: list[Gate] = []
        for moment, hold in HOLDS.items():
            is_asked = hold.is_asked(facts.step, is_engine_on=facts.is_engine_on)
            if what is hold.into or (what in hold.cues and is_asked):
                held += self._open(moment, facts)
        return held

    def held_cues(self, facts: GateFacts) -> dict[CueName, str]:
        """For each cue that is held back now, the id of the first gate that does so."""
        held = {cue: self.holds_back(cue, facts) for cue in CueName}
        return {cue: gates[0].id for cue, gates in held.items() if gates}

    def unanswered(self, at: Step, facts: GateFacts) -> list[Gate]:
        """List the gates that should have been answered before step ``at``, and are not."""
        due = self._due(at, facts)
        return [gate for gate in due if self.outcome(gate, facts) is Outcome.UNANSWERED]

    def enter(self, facts: GateFacts) -> list[Gate]:
        """Make up the record as a step begins, or the engine starts, by whatever way it came.

        Each gate is noted once, as it stood when it was first passed. To be called after each
        event; it does nothing where nothing was passed.

        Args:
            facts: What is known now, the step that has begun among it.

        Returns:
            The gates that are noted as unanswered now.
        """
        left = []
        for gate in self._due(facts.step, facts):
            if gate.id not in self._noted:
                outcome = self.outcome(gate, facts)
                self._note(GateNote(gate.id, facts.step, outcome, self._answers.get(gate.id)))
                left += [gate] if outcome is Outcome.UNANSWERED else []
        return left

    def start_over(self) -> frozenset[str]:
        """Ask again what has to be asked before the engine is started once more.

        What was noted stays on the record; the next attempt is noted after it.

        Returns:
            The gates that are asked again.
        """
        again = frozenset(gate.id for gate in self.gates if gate.before in _ASKED_AGAIN)
        for gate_id in again:
            self._answers.pop(gate_id, None)
            self._noted.pop(gate_id, None)
        return again

    def outcome(self, gate: Gate, facts: GateFacts) -> Outcome:
        """Tell how it stands with a gate, given the facts."""
        is_answered = gate.id in self._answers
        if gate.check is None:
            return Outcome.TICKED if is_answered else Outcome.UNANSWERED
        is_so = gate.check(facts, self._limits)
        if is_so:
            return Outcome.MEASURED
        if is_answered and is_so is None:
            return Outcome.CONFIRMED
        if is_answered and gate.override is Override.ALWAYS:
            return Outcome.OVERRIDDEN
        return Outcome.UNANSWERED

    def _gate(self, gate_id: str) -> Gate:
        gate = GATE_BY_ID.get(gate_id)
        if gate is None or gate not in self.gates:
            raise ProcedureError(f"gate {gate_id}: this unit has none of that name")
        return gate

    def _may_press(self, gate: Gate, facts: GateFacts) -> bool:
        is_unknown = gate.check is None or gate.check(facts, self._limits) is None
        return is_unknown and not gate.is_question

    def _open(self, moment: Moment, facts: GateFacts) -> list[Gate]:
        return [
            gate
            for gate in self.gates
            if gate.before is moment and self.outcome(gate, facts) is Outcome.UNANSWERED
        ]

    def _due(self, at: Step, facts: GateFacts) -> list[Gate]:
        """The gates that lie behind; those of an engine start only once it was started."""
        passed = {
            moment
            for moment, hold in HOLDS.items()
            if hold.into.place <= at.place
            and (moment is not Moment.START_ENGINE or facts.is_engine_on)
        }
        return [gate for gate in self.gates if gate.before in passed]

    def _note(self, note: GateNote) -> None:
        self._noted[note.gate_id] = note
        self._notes.append(note)
