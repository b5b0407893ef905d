"""Read and write the ordered part of a job file: ``[procedure]`` and ``[fluid]``.

Scales, pan sensor and container are the bench's own. A whole job file serves as well; what it
says of them is checked and left aside.
"""

from dataclasses import dataclass

import msgspec

from drainscale.errors import InputError
from drainscale.quantities.job import FluidSheet, ProcedureLimits
from drainscale.recording.job_file import section_lines
from drainscale.recording.job_rules import JOB_FORMAT, SECTIONS
from drainscale.recording.ruled_toml import RuledToml
from drainscale.recording.toml_rules import Section

ORDERED = ("procedure", "fluid")
_SECTIONS = {
    name: section if name in ORDERED else Section(section.rules, section.pairs, is_required=False)
    for name, section in SECTIONS.items()
}


@dataclass(frozen=True, slots=True)
class Order:
    """What is to be done: the part of a job that belongs to vehicle and fluid."""

    procedure: ProcedureLimits
    fluid: FluidSheet


def parse_order(text: str, name: str, error: type[InputError]) -> Order:
    """Read an order from the text of a job file.

    Args:
        text: The TOML document.
        name: How messages call it.
        error: What is raised.

    Raises:
        InputError: As ``error``: not TOML, or a key that is unknown, missing or out of range.
    """
    tables = RuledToml(text, name, _SECTIONS, error, JOB_FORMAT).tables()
    return msgspec.convert({name: tables[name] for name in ORDERED}, Order)


def order_text(order: Order) -> str:
    """Write an order as TOML that ``parse_order`` reads back to the same."""
    lines = [f"format = {JOB_FORMAT}"]
    for section in ORDERED:
        lines += section_lines(section, getattr(order, section))
    return "\n".join(lines) + "\n"
