"""What a press of the foot switch means now.

A press answers what is asked (gates). Where nothing is asked it confirms what the cue asked for
and the sensors cannot see; it never starts a flow of oil by itself.
"""

from dataclasses import dataclass, replace

from drainscale.procedure.cue_facts import Cue, CueName
from drainscale.procedure.gate_book import GateBook
from drainscale.procedure.gate_facts import GateFacts
from drainscale.procedure.gates import Gate
from drainscale.procedure.moments import Moment
from drainscale.procedure.steps import Step

# reasons of a cue at which a press says: plug shut, engine off, let it cool, start over
STARTS_OVER = frozenset({"start-over", "window-missed"})
COOLING, COLD_ENOUGH = "cooling", "cold-enough"
ENOUGH_BACK_IN = "enough-back-in"
# the step that begins with the press that answers the gates of a moment
BEGINS = {Moment.START_ENGINE: Step.CIRCULATE, Moment.STOP_ENGINE: None, Moment.END: Step.DONE}


@dataclass(frozen=True, slots=True)
class Meaning:
    """The gates that a press answered, and the step that it marks."""

    answered: tuple[Gate, ...]
    step: Step | None

    @property
    def is_something(self) -> bool:
        """Whether the press answered or began anything."""
        return bool(self.answered) or self.step is not None


def press(book: GateBook, facts: GateFacts, cue: Cue, *, on_board: bool = False) -> Meaning:
    """Tell what a press means, and answer the gates by it.

    Args:
        book: The gates of this service.
        facts: What they look at.
        cue: The cue that is shown.
        on_board: The board's button, beside which the question is written out.
    """
    if _starts_over(book, facts, cue):
        return Meaning((), Step.WARM)
    if not on_board and _starts_too_early(book, facts, cue):
        return Meaning((), None)
    if cue.reason == COOLING and any(gate.id == COLD_ENOUGH for gate in book.asked(facts)):
        return Meaning((), None)  # somebody brushed the switch: nothing is asked for an hour
    answered = tuple(book.press(facts))
    if answered:
        return Meaning(answered, _begun_by(answered))
    step = _confirmed(facts.step, cue.name, has_standpipe=book.has_standpipe)
    if step is Step.REFIT or (step is Step.SEAL and cue.name is CueName.SHUT):
        # it says that the plug is shut, to its torque: that the stream ends may not be seen
        answered = tuple(book.press(replace(facts, step=step)))
    return Meaning(answered, step)


def _starts_over(book: GateBook, facts: GateFacts, cue: Cue) -> bool:
    """Whether a press begins the wait for the fluid to cool.

    After an attempt that failed the plug has to be shut and torqued first; and who has answered
    the list for the end on the board closes the job as it is.
    """
    if cue.reason not in STARTS_OVER:
        return False
    moments = {gate.before for gate in book.asked(facts)}
    if facts.step is Step.SEAL:
        return Moment.END in moments and Moment.STOP_ENGINE not in moments
    return True


def _starts_too_early(book: GateBook, facts: GateFacts, cue: Cue) -> bool:
    """Whether a press would start the engine while the lamps ask for fluid.

    At least what came out has to be back in before; a unit that is filled through its check hole
    takes no more once it overflows, and goes on. Who has to go on all the same says so on the
    board, and the record says it.
    """
    if cue.name is not CueName.ADD:
        return False
    return any(gate.id == ENOUGH_BACK_IN for gate in book.asked(facts))


def _begun_by(answered: tuple[Gate, ...]) -> Step | None:
    return next((step for gate in answered if (step := BEGINS.get(gate.before))), None)


def _confirmed(step: Step, cue: CueName, *, has_standpipe: bool) -> Step | None:
    if cue is CueName.GO_ON and step is Step.DRAIN and has_standpipe:
        return Step.DRAIN_PAN
    if cue is CueName.GO_ON and step in (Step.DRAIN, Step.DRAIN_PAN):
        return Step.REFIT
    if cue is CueName.OPEN and step in (Step.CIRCULATE, Step.WARM, Step.REFILL):
        return Step.LEVEL
    if cue in (CueName.SHUT, CueName.STOP) and step is Step.LEVEL:
        return Step.SEAL
    if step is Step.SEAL:
        return Step.DONE
    return None
