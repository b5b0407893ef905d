"""The reference page and the tables say the same."""

import re
from pathlib import Path

import pytest

from drainscale.procedure.cautions import CAUTIONS
from drainscale.procedure.cue_rules import RULES
from drainscale.procedure.gates import GATES
from drainscale.procedure.page import PARTS, filled
from drainscale.procedure.steps import Mode, Step
from drainscale.procedure.table import TABLE

PAGE = Path(__file__).parents[3] / "docs" / "reference" / "procedure.md"
TEXT = PAGE.read_text(encoding="utf-8")
HOW = "python -m drainscale.procedure.page < docs/reference/procedure.md > new.md"


def drawn() -> set[tuple[str, str, str]]:
    """Read the arrows of the diagram back, apart from the code that draws it."""
    arrows = re.findall(r"(?m)^ +([a-z_]+) --> ([a-z_]+): (\w+)", TEXT)
    return {(start.replace("_", "-"), end.replace("_", "-"), name) for start, end, name in arrows}


def test_the_page_is_up_to_date() -> None:
    assert filled(TEXT) == TEXT, f"bring it up to date: {HOW}"


def test_every_generated_part_is_on_the_page() -> None:
    assert set(re.findall(r"(?m)^<!-- ([a-z]+) -->$", TEXT)) - {"end"} == set(PARTS)


def test_the_diagram_has_the_moves_of_the_table_and_no_others() -> None:
    in_table = {
        (str(step), str(move.to), kind.__name__)
        for step, row in TABLE.items()
        for kind, move in row.items()
        if isinstance(move.to, Step) and move.to is not step
    }
    assert drawn() == in_table


@pytest.mark.parametrize(
    "name",
    [*Step, *Mode, *(gate.id for gate in GATES), *(rule.reason for rule in RULES)]
    + [caution.id for caution in CAUTIONS],
)
def test_step_mode_gate_reason_and_caution_are_on_the_page(name: str) -> None:
    assert f"`{name}`" in TEXT


def test_a_page_that_is_out_of_date_is_noticed() -> None:
    assert filled(TEXT.replace("FlowBegan", "FlowStarted", 1)) == TEXT
