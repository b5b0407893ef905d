"""The generated parts of the procedure's reference page, made from the tables themselves.

A part of the page stands between ``<!-- NAME -->`` and ``<!-- end -->``; what is around it is
written by hand. To bring a page up to date:

    python -m drainscale.procedure.page < docs/reference/procedure.md > new.md
"""

import re
import sys
from collections.abc import Callable, Iterable, Mapping

from drainscale.procedure.cautions import CAUTIONS
from drainscale.procedure.cue_rules import HELD_AS, RULES
from drainscale.procedure.events import StepEvent
from drainscale.procedure.gates import GATES, Gate, gates_of, presses_of_a_clean_job
from drainscale.procedure.moments import HOLDS
from drainscale.procedure.steps import Mode, Step
from drainscale.procedure.table import ANYWHERE, MODES, TABLE, Target, Transition
from drainscale.quantities.job import ProcedureLimits

_PART = re.compile(r"(<!-- ([a-z-]+) -->\n)(.*?)(<!-- end -->)", re.DOTALL)
_STANDPIPE = ProcedureLimits("standpipe", (35.0, 45.0), 0.6, 60.0, 3.0)
_CHECK_PLUG = ProcedureLimits("check-plug", (35.0, 45.0), 0.6, 60.0, 3.0, fill_via="check-plug")


def diagram() -> str:
    """Draw the table of steps as a Mermaid state diagram.

    What is legal in every step (a mark, going back) is left out; so is a move that stays.
    """
    lines = ["stateDiagram-v2", f"    [*] --> {_id(Step.PREPARE)}"]
    lines += [f'    state "{step}" as {_id(step)}' for step in Step]
    for step, row in TABLE.items():
        for event, move in row.items():
            if isinstance(move.to, Step) and move.to is not step:
                lines.append(f"    {_id(step)} --> {_id(move.to)}: {_label(event, move)}")
    lines.append(f"    {_id(Step.DONE)} --> [*]")
    return "\n".join(["```mermaid", *lines, "```"])


def moves() -> str:
    """List every move of the table, the ones that are legal everywhere at the end."""
    rows = [
        (f"`{step}`", event.__name__, _target(move), _guard(move))
        for step, row in TABLE.items()
        for event, move in row.items()
        if event not in ANYWHERE
    ]
    rows += [
        ("any but `done`", event.__name__, _target(move), _guard(move))
        for event, move in ANYWHERE.items()
    ]
    return _table(("in", "when", "to", "if"), rows)


def modes() -> str:
    """List the modes and how they change."""
    rows = [
        (f"`{mode}`", event.__name__, f"`{to}`")
        for mode, row in MODES.items()
        for event, to in row.items()
    ]
    woken = ", ".join(f"`{mode}`" for mode in Mode if mode is not Mode.ABORTED)
    rows.append((woken, "any move of a step", f"`{Mode.WORKING}`"))
    return _table(("in", "when", "to"), rows)


def gates() -> str:
    """List the gates."""
    rows = [
        (f"`{gate.id}`", gate.ask, gate.before, gate.units, gate.group, _said_by(gate))
        for gate in GATES
    ]
    return _table(("gate", "what is asked", "before", "on", "group", "who says so"), rows)


def holds() -> str:
    """List what the gates of each moment hold back."""
    rows = [
        (
            moment,
            ", ".join(f"`{step}`" for step in sorted(hold.asked_in, key=lambda step: step.place)),
            {True: "on", False: "off", None: "either"}[hold.engine_on],
            ", ".join(f"`{cue}`" for cue in sorted(hold.cues)) or "none",
            f"`{hold.into}`",
        )
        for moment, hold in HOLDS.items()
    ]
    return _table(("moment", "asked in", "engine", "cues held back", "step held back"), rows)


def presses() -> str:
    """List the presses of a clean job on both kinds of unit."""
    rows = []
    for name, limits in (("standpipe", _STANDPIPE), ("check plug", _CHECK_PLUG)):
        for number, moment in enumerate(presses_of_a_clean_job(limits), start=1):
            ids = [g.id for g in gates_of(limits) if g.before is moment and g.is_tick]
            rows.append((name, str(number), moment, ", ".join(f"`{i}`" for i in ids)))
    return _table(("unit", "press", "moment", "says at least"), rows)


def cues() -> str:
    """List the rules of the cue in their order, with what stands in for a cue held back."""
    rows = [
        (
            str(number),
            f"`{rule.reason}`",
            f"`{rule.cue}`",
            f"`{HELD_AS[rule.cue]}`" if rule.cue in HELD_AS else "",
            rule.text,
        )
        for number, rule in enumerate(RULES, start=1)
    ]
    return _table(("", "reason", "cue", "held back", "what is said"), rows)


def cautions() -> str:
    """List the cautions with their steps and sources."""
    rows = [
        (
            f"`{c.id}`",
            c.text,
            "all" if set(c.steps) == set(Step) else ", ".join(f"`{step}`" for step in c.steps),
            c.source,
        )
        for c in CAUTIONS
    ]
    return _table(("caution", "text", "steps", "source"), rows)


PARTS: Mapping[str, Callable[[], str]] = {
    part.__name__: part for part in (diagram, moves, modes, gates, holds, presses, cues, cautions)
}


def filled(page: str) -> str:
    """Put the present tables into a page; the text around them stays."""
    return _PART.sub(lambda m: f"{m[1]}\n{PARTS[m[2]]()}\n\n{m[4]}", page)


def _id(step: Step) -> str:
    return step.replace("-", "_")


def _label(event: type[StepEvent], move: Transition) -> str:
    guard = f" [{move.guard.__name__}]" if move.guard else ""
    return event.__name__ + guard


def _target(move: Transition) -> str:
    return move.to.value if isinstance(move.to, Target) else f"`{move.to}`"


def _guard(move: Transition) -> str:
    return move.guard.__name__.replace("_", " ") if move.guard else ""


def _said_by(gate: Gate) -> str:
    if gate.is_question:
        return "one of: " + ", ".join(f"`{answer.key}`" for answer in gate.answers)
    if gate.is_tick:
        return "a person"
    return f"measured; {gate.override}"


def _table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    lines = ["| " + " | ".join(head) + " |", "|" + " --- |" * len(head)]
    return "\n".join([*lines, *("| " + " | ".join(row) + " |" for row in rows)])


if __name__ == "__main__":
    sys.stdout.write(filled(sys.stdin.read()))
