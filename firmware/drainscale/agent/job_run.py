"""One job on the bench: samples into the core, cues out, everything kept before it is told.

Nothing here waits or reads a clock; the agent's loop does, and hands the time in.
"""

import logging
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import replace
from math import floor
from typing import Protocol

from drainscale.agent.foot import press
from drainscale.core import Event, Live, Service
from drainscale.errors import ProcedureError
from drainscale.messages.records import (
    Body,
    CueShown,
    EventTold,
    FaultTold,
    JobClosed,
    Note,
    Outcome,
    ResultFormed,
    Samples,
    Teller,
)
from drainscale.procedure.cue_facts import Cue, CueName
from drainscale.procedure.gate_book import GateBook
from drainscale.procedure.gate_facts import GateFacts
from drainscale.procedure.gates import YES
from drainscale.procedure.moments import Moment
from drainscale.procedure.steps import Step
from drainscale.quantities.job import Job
from drainscale.quantities.samples import Sample

log = logging.getLogger(__name__)

LOOK_S = 0.5  # how often cue and figures are formed anew
LIST_S = 900.0  # so long the job waits for the list of its end; then the record says "unanswered"
ALL_SILENT_S = 5.0  # without a sample of any sensor; the core sees nothing then, not even time
ACT_AT_ONCE = (CueName.STOP, CueName.SHUT)  # what a fault must not hide


def next_on_grid(t: float, step_s: float) -> float:
    """Tell the first whole multiple of a step after ``t``, s."""
    return (floor(t / step_s + 1e-6) + 1) * step_s


class Keeper(Protocol):
    """Where a job is kept: the spool."""

    def samples(self, samples: Iterable[Sample]) -> None:
        """Keep samples, in time order."""
        ...

    def tell(self, body: Body) -> None:
        """Keep a numbered record."""
        ...


class JobRun:
    """Runs one job.

    Args:
        job: Bench and order together.
        keeper: Keeps what is measured and told.
    """

    def __init__(self, job: Job, keeper: Keeper) -> None:
        self.service = Service(job)
        self._keeper = keeper
        self._gates = GateBook(job.procedure)
        self._next_look_t = float("-inf")
        self._cue: Cue | None = None
        self.cue_since_t = 0.0  # its pattern began then, also where another run showed it
        self._step: Step | None = None
        self._live: Live | None = None
        self._marks: list[Step] = []
        self._recalled: set[tuple[str, str]] = set()  # answers that the spool held
        self._noted: set[str] = set()  # by the run that was killed, of gates that were passed
        self._is_standing = False
        self._over_since_t: float | None = None
        self._is_list_open = False  # all is measured, and the list for the end not yet answered
        self.is_closed = False

    # --- samples -----------------------------------------------------------------------------

    def replay(self, told: Iterable[Body]) -> None:
        """Take up a job where the spool left it: samples and answers in the order they came.

        The same samples give the same state; what they led to was told then and is not told again.
        """
        for body in told:
            if isinstance(body, Samples):
                for sample in body.samples:
                    self.service.feed(sample)
                self._look_for_start_over()
            elif isinstance(body, Note):
                self._recall(body)
            elif isinstance(body, CueShown):
                self._show(body.t, Cue(CueName(body.cue), body.reason))
        last_t = self.service.t
        if last_t is not None:
            self._live = self.service.live(last_t, held=self._held())
            self._next_look_t = next_on_grid(last_t, LOOK_S)

    def _look_for_start_over(self) -> None:
        """With the engine off for the fluid to cool, what was confirmed counts no more."""
        is_standing = self.service.situation.is_standing
        if is_standing and not self._is_standing:
            self._noted -= self._gates.start_over()
        self._is_standing = is_standing

    def _recall(self, note: Note) -> None:
        if note.by == "kit":
            self._noted.add(note.key)
            return
        self._recalled.add((note.key, note.text))
        with suppress(ProcedureError):  # a note on something else than a gate
            self._gates.tick(note.key, note.text or YES.key)

    def feed(self, samples: list[Sample]) -> None:
        """Take samples: they are kept first, then measured by.

        What a sensor still says after the board gave the job up is none of the job's.
        """
        if not samples or self.is_closed:
            return
        self._keeper.samples(samples)
        for sample in samples:
            for event in self.service.feed(sample):
                self._tell(event)

    def _tell(self, event: Event) -> None:
        log.info("event=%s step=%s t=%.3f", event.event, event.step, event.t)
        self._keeper.tell(
            EventTold(t=event.t, event=event.event, step=event.step, sensor=event.sensor)
        )

    # --- cue and figures -----------------------------------------------------------------------

    def look(self, t: float) -> Live | None:
        """Form the figures and the cue anew, if it is time; ``None`` if it is not."""
        is_silent = t - (self.service.t or 0.0) >= ALL_SILENT_S
        if t < self._next_look_t or (self.service.t is None and not is_silent):
            return None
        self._next_look_t = next_on_grid(t, LOOK_S)
        self._look_for_start_over()
        live = self.service.live(t, held=self._held())
        if is_silent:
            live = self._withheld(live)
        self._look_at_the_list(t)
        if self._is_list_open:
            is_stop = live.cue.name is CueName.STOP  # it still runs, and the container is full
            cue = live.cue if is_stop else self._cue_at_the_list()
            live = replace(live, step=Step.SEAL, cue=cue)
        self._live = live
        if live.step is not self._step:
            self._entered(t, live.step)
        if live.cue != self._cue:
            self._show(t, live.cue)
            log.info(
                "cue=%s reason=%s step=%s t=%.3f", live.cue.name, live.cue.reason, live.step, t
            )
            self._keeper.tell(
                CueShown(t=t, cue=live.cue.name, reason=live.cue.reason, step=live.step)
            )
        return live

    def _look_at_the_list(self, t: float) -> None:
        """Whether the job waits for what only people know: torqued, dry, the used oil logged.

        The sensors see its end sooner, when the container is taken away. Nothing is measured any
        more; but what the record says of the gates is made up when the job is closed.
        """
        if not self.service.situation.is_over:
            return
        if self._over_since_t is None:
            self._over_since_t = t
        # what is measured to be otherwise nobody can tick: it holds nothing up
        is_asked = any(gate.is_tick for gate in self._gates.asked(self._facts_at(Step.SEAL)))
        self._is_list_open = is_asked and t - self._over_since_t < LIST_S

    def _cue_at_the_list(self) -> Cue:
        asked = self._gates.asked(self._facts_at(Step.SEAL))
        before = [gate for gate in asked if gate.before is not Moment.END]
        return Cue(CueName.GET_READY, before[0].id) if before else Cue(CueName.GO_ON, "seal")

    def _withheld(self, live: Live) -> Live:
        """No sensor says anything: that is a fault, whatever the last samples called for."""
        sensors = ("scale", "pan", *(["supply"] if self.service.job.supply_scale else []))
        if live.cue.name in ACT_AT_ONCE:
            return replace(live, faults=sensors)
        return replace(live, faults=sensors, cue=Cue(CueName.FAULT, "sensor-fault"))

    def _show(self, t: float, cue: Cue) -> None:
        if self._cue is None or cue.name is not self._cue.name:
            self.cue_since_t = t
        self._cue = cue

    @property
    def cue(self) -> CueName:
        """The cue that is due."""
        return self._cue.name if self._cue else CueName.WAIT

    def _held(self) -> dict[CueName, str]:
        facts = self._facts()
        held: dict[CueName, str] = {}
        for name in (CueName.GO_ON, CueName.ADD, CueName.OPEN):
            gates = self._gates.holds_back(name, facts)
            if gates:
                held[name] = gates[0].id
        return held

    def _facts(self) -> GateFacts:
        return self._facts_at(Step.SEAL if self._is_list_open else self.service.situation.step)

    def _facts_at(self, step: Step) -> GateFacts:
        live = self._live
        situation = self.service.situation
        return GateFacts(
            step=step,
            fluid_C=live.fluid_C if live else None,
            drained_20C_L=live.drained_20C_L if live else None,
            added_20C_L=live.added_20C_L if live else None,
            is_engine_on=situation.is_engine_on,
        )

    def _entered(self, t: float, step: Step) -> None:
        self._step = step
        log.info("step=%s t=%.3f", step, t)
        facts = self._facts()
        told = len(self._gates.notes)
        self._gates.enter(facts)
        for note in self._gates.notes[told:]:
            if note.gate_id in self._noted:
                self._noted.discard(note.gate_id)
                continue
            self._keeper.tell(Note(t=t, key=note.gate_id, by="kit", text=str(note.outcome)))

    # --- people --------------------------------------------------------------------------------

    def pressed(self, t: float, by: Teller = "foot-switch") -> bool:
        """The foot switch was pressed, or the board's button that stands for it.

        Returns:
            Whether it answered or began anything.
        """
        self._look_at_the_list(t)  # it may be over since the last look
        cue = self._cue or Cue(CueName.WAIT, "")
        if self._is_list_open:
            cue = self._cue_at_the_list()
        meaning = press(self._gates, self._facts(), cue, on_board=by == "board")
        log.info("foot=pressed answered=%d step=%s t=%.3f", len(meaning.answered), meaning.step, t)
        for gate in meaning.answered:
            self._keeper.tell(Note(t=t, key=gate.id, by=by))
        if meaning.step is not None and not self.service.situation.is_over:
            self._marks.append(meaning.step)
        self._look_at_the_list(t)
        return meaning.is_something

    def command(self, t: float, order: str, gate: str | None) -> None:
        """Carry out an order from the board: confirm, back or abort.

        Raises:
            ProcedureError: The procedure does not allow it here.
        """
        if order == "confirm" and gate is not None:
            self._tick(t, gate)
            self._look_at_the_list(t)
        elif order == "confirm":
            self.pressed(t, by="board")
        elif order == "back":
            behind = self.service.situation.behind
            if not behind or self.service.situation.is_over:
                raise ProcedureError("there is no step to go back to")
            self._marks.append(behind[-1])
        else:
            self.close(t, "done" if self.service.situation.is_over else "aborted")

    def take_marks(self) -> list[Step]:
        """Steps that people named since the last call; to be stamped and fed like any sample."""
        taken, self._marks = self._marks, []
        return taken

    def tick_gates(self, t: float, ids: Iterable[str]) -> None:
        """Answer gates that were answered on paper or board before the start.

        Given again to a run that takes the job up, they are told once.

        Args:
            t: Now.
            ids: Gates, or ``GATE=ANSWER`` where more than yes is asked.

        Raises:
            ProcedureError: No such gate, or no such answer.
        """
        for given in ids:
            gate_id, _, answer = given.partition("=")
            if (gate_id, answer) not in self._recalled:
                self._tick(t, given)
        self._look_at_the_list(t)

    def _tick(self, t: float, given: str) -> None:
        gate_id, _, answer = given.partition("=")
        self._gates.tick(gate_id, answer or YES.key)
        self._keeper.tell(Note(t=t, key=gate_id, by="board", text=answer))

    def fault(self, t: float, code: str, text: str) -> None:
        """Tell a fault of the kit itself; the sensors' are the core's to tell."""
        log.error("fault=%s t=%.3f %s", code, t, text)
        self._keeper.tell(FaultTold(code=code, text=text, t=t))

    # --- the end -------------------------------------------------------------------------------

    @property
    def is_done(self) -> bool:
        """Whether the procedure has come to its end, or the job was given up."""
        return self.is_closed or self.service.situation.is_over

    @property
    def may_close(self) -> bool:
        """Whether nothing is waited for any more: it is done, and its list answered or let be."""
        is_looked_at = self._over_since_t is not None
        return self.is_closed or (self.is_done and is_looked_at and not self._is_list_open)

    def answer(self) -> dict[str, object]:
        """The result as it stands now, in a replay's form."""
        return self.service.finish().to_dict()

    def close(self, t: float, outcome: Outcome) -> None:
        """Tell the result for good and close the job."""
        if self.is_closed:
            return
        self._is_list_open = False
        if self.service.situation.is_over and self._step is not Step.DONE:
            # no look comes after this: what the last step passed is made up here
            self._live = self.service.live(t, held=self._held())
            self._entered(t, Step.DONE)
        self._keeper.tell(ResultFormed(t=t, is_final=True, result=self.answer()))
        self._keeper.tell(JobClosed(t=t, outcome=outcome))
        self.is_closed = True
