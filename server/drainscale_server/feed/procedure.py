"""The part of the board about steps, gates and cautions, by the kit's own tables. Pure."""

from contextlib import suppress
from typing import Any

import msgspec

from drainscale.errors import ProcedureError
from drainscale.messages.telegrams import Figures
from drainscale.procedure.cautions import cautions_at
from drainscale.procedure.gate_book import GateBook, Outcome
from drainscale.procedure.gate_facts import GateFacts
from drainscale.procedure.gates import YES, Gate
from drainscale.procedure.steps import ORDER, Step
from drainscale.quantities.job import ProcedureLimits
from drainscale_server.feed.board_state import (
    AnswerPart,
    CautionPart,
    GatePart,
    Mode,
    ProcedurePart,
    StepBegun,
)
from drainscale_server.feed.stored_part import StoredPart
from drainscale_server.store.rows import CueRow, NoteRow

MEASURED = "measured"
COOLING = ("cooling", "cooling-but-open")  # reasons of the cues while the fluid cools
STANDING = (*COOLING, "start-again")  # and until the engine runs again
_ENGINE_ON = (Step.CIRCULATE, Step.WARM, Step.LEVEL)


def procedure_part(
    stored: StoredPart, limits: ProcedureLimits | None, figures: Figures | None
) -> ProcedurePart:
    """Tell where the service stands.

    Args:
        stored: What is told of the job.
        limits: Of its unit; None: not known.
        figures: The last ones of this job, if any came.
    """
    steps = steps_so_far(stored, figures)
    step = Step(steps[-1].step) if steps else None
    if step is None:
        step = Step.PREPARE if stored.job is not None else None
    upper_C = _upper_C(figures)
    return ProcedurePart(
        step=step,
        steps=steps,
        mode=_mode(stored),
        next_step=None if step is None or limits is None else next_step(step, limits),
        gates=() if limits is None or step is None else gate_parts(stored, limits, step, figures),
        cautions=()
        if step is None
        else tuple(CautionPart(one.id, one.text) for one in cautions_at(step, upper_C)),
    )


def steps_so_far(stored: StoredPart, figures: Figures | None) -> tuple[StepBegun, ...]:
    """List the steps in the order in which they began, by the result or by what was told."""
    told = _steps_of(stored.result or {}) if stored.is_final else []
    if not told:
        told = sorted(
            [(one.t, one.step) for one in stored.events]
            + [(one.t, one.step) for one in stored.cues]
        )
        if figures is not None:
            told.append((figures.t, figures.step))
    begun: list[StepBegun] = []
    for t, step in told:
        if step in list(Step) and (not begun or begun[-1].step != step):
            begun.append(StepBegun(step, t))
    return tuple(begun)


class _StepTold(msgspec.Struct):
    step: str
    started_s: float


def _steps_of(result: dict[str, Any]) -> list[tuple[float, str]]:
    """The steps of an answer; none if they are not of the form that is known here."""
    try:
        steps = msgspec.convert(result.get("steps") or [], list[_StepTold])
    except msgspec.ValidationError:
        return []
    return [(one.started_s, one.step) for one in steps]


def next_step(step: Step, limits: ProcedureLimits) -> str | None:
    """Name the step that usually follows on this unit; None after the last."""
    later = [
        one
        for one in ORDER[step.place + 1 :]
        if one is not Step.DRAIN_PAN or limits.level_method == "standpipe"
    ]
    return later[0] if later else None


def gate_parts(
    stored: StoredPart, limits: ProcedureLimits, step: Step, figures: Figures | None
) -> tuple[GatePart, ...]:
    """List the gates of this unit in the order in which they are asked."""
    book = GateBook(limits)
    given: dict[str, NoteRow] = {}
    was_standing = False
    all_told: list[NoteRow | CueRow] = [*stored.notes, *stored.cues]
    for told in sorted(all_told, key=lambda one: one.t):
        if isinstance(told, NoteRow):
            _take(told, book, given)
            continue
        is_standing = told.reason in STANDING
        if is_standing and not was_standing:  # the engine is off: what was confirmed counts no more
            for gate_id in book.start_over():
                given.pop(gate_id, None)
        was_standing = is_standing
    asked = {gate.id for gate in book.asked(_facts(stored, step, figures, was_standing))}
    return tuple(_gate_part(gate, given.get(gate.id), gate.id in asked) for gate in book.gates)


def _take(note: NoteRow, book: GateBook, given: dict[str, NoteRow]) -> None:
    if note.by != "kit":
        given[note.key] = note
        with suppress(ProcedureError):  # a note on something else than a gate
            book.tick(note.key, note.text or YES.key)
    elif note.text in (Outcome.MEASURED, Outcome.UNANSWERED):
        given.setdefault(note.key, note)


def _facts(stored: StoredPart, step: Step, figures: Figures | None, is_standing: bool) -> GateFacts:
    was_started = any(one.step == Step.CIRCULATE for one in stored.cues)
    is_running = step in _ENGINE_ON or (step is Step.REFILL and was_started)
    return GateFacts(
        step=step,
        fluid_C=figures.fluid_C if figures else None,
        drained_20C_L=figures.drained_20C_L if figures else None,
        added_20C_L=figures.added_20C_L if figures else None,
        is_engine_on=is_running and not is_standing,
    )


def _mode(stored: StoredPart) -> Mode:
    """What goes on beside the step, as the last cue tells."""
    reason = stored.cues[-1].reason if stored.cues else ""
    if reason in COOLING:
        return "cooling"
    return "paused" if reason == "paused" else "working"


def _gate_part(gate: Gate, note: NoteRow | None, is_asked: bool) -> GatePart:
    answer, by = _answer(note)
    return GatePart(
        id=gate.id,
        group=gate.group,
        moment=gate.before.name.lower().replace("_", "-"),
        text=gate.ask,
        kind="question" if gate.is_question else "tick" if gate.is_tick else "measured",
        answers=tuple(AnswerPart(one.key, one.record) for one in gate.answers),
        is_asked=is_asked,
        answer=answer,
        by=by,
    )


def _answer(note: NoteRow | None) -> tuple[str | None, str | None]:
    if note is None or note.text == Outcome.UNANSWERED:
        return None, None
    return (MEASURED if note.by == "kit" else note.text or YES.key), note.by


def _upper_C(figures: Figures | None) -> float | None:
    if figures is None or figures.fluid_C is None or figures.U_fluid_C is None:
        return None
    return figures.fluid_C + figures.U_fluid_C
