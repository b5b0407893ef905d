"""Steps, gates and cautions of a board, held against the kit's own books."""

import dataclasses

import pytest
from tests.kit.messages.examples import JOB

from drainscale.procedure.cue_rules import RULES
from drainscale.procedure.gates import gates_of
from drainscale.procedure.steps import Step
from drainscale.signals.vocabulary import vocabulary
from drainscale_server.feed.board_state import GatePart
from drainscale_server.feed.compose import result_part, sentence
from drainscale_server.feed.procedure import STANDING, gate_parts, next_step, procedure_part
from drainscale_server.feed.stored_part import StoredPart
from drainscale_server.store.rows import CueRow, JobRow, NoteRow

LIMITS = JOB.procedure
ROW = JobRow(job="j-1", site="north", bench="bay-1", kit_job="j-1", state="open", spec=JOB)


def cue(t: float, step: str, reason: str = "draining") -> CueRow:
    return CueRow(t=t, cue="wait", reason=reason, step=step, boot="b1", seq=1)


def note(key: str, by: str = "board", text: str = "", t: float = 1.0) -> NoteRow:
    return NoteRow(t=t, key=key, by=by, text=text, boot="b1", seq=1)  # type: ignore[arg-type]


def gates(stored: StoredPart, step: Step) -> dict[str, GatePart]:
    return {gate.id: gate for gate in gate_parts(stored, LIMITS, step, None)}


def test_all_gates_of_the_unit_are_told_in_the_order_in_which_they_are_asked() -> None:
    told = list(gates(StoredPart(job=ROW), Step.PREPARE))
    assert told == [gate.id for gate in gates_of(LIMITS)]


def test_before_the_drain_its_list_is_asked() -> None:
    told = gates(StoredPart(job=ROW), Step.PREPARE)
    asked = {gate.id for gate in told.values() if gate.is_asked}
    assert asked == {"fill-plug-opens", "level-before-drain", "pan-and-filter"}
    assert told["pan-and-filter"].kind == "question"
    assert told["fill-plug-opens"].moment == "open-drain"


def test_an_answer_is_told_with_who_gave_it_and_is_asked_no_more() -> None:
    notes = (note("fill-plug-opens"), note("pan-and-filter", text="not-weighed"))
    told = gates(StoredPart(job=ROW, notes=notes), Step.PREPARE)
    assert (told["fill-plug-opens"].answer, told["fill-plug-opens"].by) == ("yes", "board")
    assert told["pan-and-filter"].answer == "not-weighed"
    assert [gate.id for gate in told.values() if gate.is_asked] == ["level-before-drain"]


@pytest.mark.parametrize(
    ("notes", "answer", "by"),
    [
        ((note("enough-back-in", "kit", "measured"),), "measured", "kit"),
        ((note("enough-back-in", "kit", "unanswered"),), None, None),
        ((note("enough-back-in", "kit", "unanswered"), note("enough-back-in")), "yes", "board"),
        ((note("enough-back-in"), note("enough-back-in", "kit", "measured")), "yes", "board"),
    ],
)
def test_what_the_kit_noted_stands_only_where_nobody_answered(
    notes: tuple[NoteRow, ...], answer: str | None, by: str | None
) -> None:
    told = gates(StoredPart(job=ROW, notes=notes), Step.CIRCULATE)["enough-back-in"]
    assert (told.answer, told.by, told.kind) == (answer, by, "measured")


def test_what_was_confirmed_before_the_engine_counts_no_more_once_it_cools() -> None:
    notes = (note("brake-held"), note("fill-plug-opens"))  # at 1 s
    told = (cue(0.5, "circulate"), cue(5.0, "warm", reason="cooling"))
    part = procedure_part(StoredPart(job=ROW, notes=notes, cues=told), LIMITS, None)
    by_id = {gate.id: gate for gate in part.gates}
    assert by_id["fill-plug-opens"].answer == "yes"
    assert by_id["brake-held"].answer is None
    assert by_id["brake-held"].is_asked  # the engine is off: it is asked before the next start
    assert part.mode == "cooling"
    again = (*notes, note("brake-held", t=9.0))
    later = procedure_part(StoredPart(job=ROW, notes=again, cues=told), LIMITS, None)
    assert {gate.id: gate for gate in later.gates}["brake-held"].answer == "yes"


def test_a_note_on_something_else_harms_nothing() -> None:
    stored = StoredPart(job=ROW, notes=(note("no-such-gate"), note("pan-and-filter", text="?")))
    assert gates(stored, Step.PREPARE)["pan-and-filter"].is_asked


def test_steps_are_told_as_they_began_and_repeat() -> None:
    told = (cue(5.0, "drain"), cue(9.0, "drain"), cue(20.0, "refill"), cue(30.0, "drain"))
    part = procedure_part(StoredPart(job=ROW, cues=told), LIMITS, None)
    assert [(one.step, one.started_t) for one in part.steps] == [
        ("drain", 5.0), ("refill", 20.0), ("drain", 30.0),
    ]  # fmt: skip
    assert (part.step, part.next_step) == ("drain", "drain-pan")


def test_a_step_of_a_newer_kit_is_left_out() -> None:
    part = procedure_part(StoredPart(job=ROW, cues=(cue(5.0, "rinse"),)), LIMITS, None)
    assert part.step == "prepare"


def test_the_final_result_knows_the_steps_best() -> None:
    steps = [{"step": "drain", "started_s": 4.0}, {"step": "done", "started_s": 90.0}]
    stored = StoredPart(job=ROW, cues=(cue(5.0, "drain"),), result={"steps": steps}, is_final=True)
    part = procedure_part(stored, LIMITS, None)
    assert [one.started_t for one in part.steps] == [4.0, 90.0]
    assert part.next_step is None


@pytest.mark.parametrize("steps", [5, "drain", [5], [{}], [{"step": ["drain"], "started_s": "?"}]])
def test_steps_of_an_unknown_form_are_not_believed(steps: object) -> None:
    stored = StoredPart(job=ROW, cues=(cue(5.0, "drain"),), result={"steps": steps}, is_final=True)
    part = procedure_part(stored, LIMITS, None)
    assert [(one.step, one.started_t) for one in part.steps] == [("drain", 5.0)]


@pytest.mark.parametrize("odd", ["?", [1], {}, True, 10**400])
def test_what_is_no_number_in_an_answer_is_not_known(odd: object) -> None:
    answer = {"spill": {"volume_L": odd}, "net": {"volume_20C_L": 0.4}, "level": {"verdict": odd}}
    part = result_part(answer, is_final=True)
    assert (part.spilled_mL, part.net_20C_L) == (None, 0.4)
    assert part.verdict == (odd if isinstance(odd, str) else None)


def test_a_check_plug_unit_has_no_second_drain() -> None:
    assert next_step(Step.DRAIN, LIMITS) == "drain-pan"
    check_plug = dataclasses.replace(LIMITS, level_method="check-plug")
    assert next_step(Step.DRAIN, check_plug) == "refit"


def test_cautions_belong_to_the_step_and_an_unknown_temperature_counts_as_hot() -> None:
    part = procedure_part(StoredPart(job=ROW, cues=(cue(5.0, "drain"),)), LIMITS, None)
    assert "burn" in [one.key for one in part.cautions]


def test_every_reason_of_the_kit_has_its_sentence() -> None:
    assert all(sentence(rule.reason) for rule in RULES)
    assert all(sentence(gate.id) == gate.ask for gate in gates_of(LIMITS))
    assert sentence("a newer kit's reason") == ""
    assert {str(rule.cue) for rule in RULES} <= set(vocabulary().cues)
    assert {*STANDING, "paused"} <= {rule.reason for rule in RULES}
