"""How it stood with the gates: ticked, measured, overridden, unanswered. Pure."""

from collections.abc import Iterable, Sequence

from drainscale.procedure.gates import GATE_BY_ID, Gate, gates_of
from drainscale.quantities.job import ProcedureLimits
from drainscale_server.record.model import GateLine
from drainscale_server.store.rows import NoteRow

NOT_PASSED = {
    "planned": "not asked yet",
    "open": "not asked yet",
    "done": "unanswered",
    "aborted": "not reached",
    "taken-back": "not reached",
}
MEASURED = "measured"
UNANSWERED = "unanswered"


def gate_lines(
    limits: ProcedureLimits | None, notes: Sequence[NoteRow], state: str
) -> list[GateLine]:
    """List the gates of the unit in the order in which they are asked, then other notes.

    A gate that was passed more than once (another attempt) has a line for each time.

    Args:
        limits: What kind of unit it is; None: unknown, so only what was noted is listed.
        notes: In time order.
        state: Of the job: says what it means that nothing was noted.
    """
    gates = gates_of(limits) if limits else _noted_gates(notes)
    lines = [line for gate in gates for line in _of_gate(gate, notes, state)]
    known = {gate.id for gate in gates}
    return lines + [_other(note) for note in notes if note.key not in known]


def _noted_gates(notes: Iterable[NoteRow]) -> tuple[Gate, ...]:
    keys = {note.key for note in notes}
    return tuple(gate for key, gate in GATE_BY_ID.items() if key in keys)


def _of_gate(gate: Gate, notes: Iterable[NoteRow], state: str) -> list[GateLine]:
    of_it = [note for note in notes if note.key == gate.id]
    passed = [note for note in of_it if note.by == "kit"]
    said = [note for note in of_it if note.by != "kit"]
    if passed:
        return [_line(gate, note.text, note.t, _latest(said, note.t)) for note in passed]
    if said:
        return [_line(gate, "ticked", said[-1].t, said[-1])]
    return [_line(gate, NOT_PASSED.get(state, UNANSWERED), None, None)]


def _latest(said: Sequence[NoteRow], until_s: float) -> NoteRow | None:
    return next((note for note in reversed(said) if note.t <= until_s), None)


def _line(gate: Gate, outcome: str, t: float | None, said: NoteRow | None) -> GateLine:
    is_by_sensor = outcome in (MEASURED, UNANSWERED)
    return GateLine(
        gate=gate.id,
        ask=gate.ask,
        moment=str(gate.before),
        outcome=outcome,
        answer=None if said is None or is_by_sensor else _answer(gate, said.text),
        by="kit" if outcome == MEASURED else None if said is None else said.by,
        t=t,
    )


def _answer(gate: Gate, key: str) -> str | None:
    if not gate.is_question:
        return None
    return next((one.record for one in gate.answers if one.key == key), key or None)


def _other(note: NoteRow) -> GateLine:
    return GateLine(
        gate=note.key,
        ask=note.key,
        moment="",
        outcome="noted",
        answer=note.text or None,
        by=note.by,
        t=note.t,
    )


def pan_filter_answer(notes: Iterable[NoteRow]) -> str | None:
    """Give the last answer to whether pan or filter come off."""
    told = [note.text for note in notes if note.key == "pan-and-filter" and note.by != "kit"]
    return told[-1] if told and told[-1] else None
