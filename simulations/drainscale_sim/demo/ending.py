"""The end of the demo: the record's main figures beside the truth, and whether all went well."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from rich.box import SIMPLE_HEAD
from rich.console import Group
from rich.table import Table
from rich.text import Text

from drainscale_sim.closed_loop.judging import Judged, LEVEL_OFF_mL
from drainscale_sim.demo.words import UNKNOWN
from drainscale_sim.score.answer import Answer
from drainscale_sim.score.truth import Truth

OUTSIDE = "outside U"
PLAYED = "A recording: its technician did not see these cues. Not for trade."
RUN = "Simulated: kit, technician and vehicle acted upon each other. Not for trade."


@dataclass(frozen=True, slots=True)
class Row:
    """One figure of the record, beside its truth where that is known."""

    name: str
    unit: str
    decimals: int
    measured: float | None
    expanded: float | None
    true: float | None

    @property
    def is_outside(self) -> bool:
        """Whether the truth is known to lie outside U."""
        return self.within() == OUTSIDE

    def within(self) -> str:
        """Say whether the truth lies within U."""
        if self.true is None or self.expanded is None:
            return ""
        if self.measured is None:
            return UNKNOWN
        return "within U" if abs(self.measured - self.true) <= self.expanded else OUTSIDE

    def number(self, value: float | None) -> str:
        """Write one value of the row."""
        return UNKNOWN if value is None else f"{value:.{self.decimals}f} {self.unit}"


def ending(
    result: Mapping[str, object], truth: Truth | None, judged: Judged | None = None
) -> Group:
    """Draw the main figures with their uncertainty, beside the truth.

    Args:
        result: The record.
        truth: What truly happened, where that is known.
        judged: The service in closed loop held against the truth.
    """
    answer = Answer(result)
    table = Table(
        title="The record",
        title_justify="left",
        box=SIMPLE_HEAD,
        show_edge=False,
        pad_edge=False,
    )
    table.add_column("figure")
    for heading in ("measured", "U (k = 2)") + (("truth", "") if truth else ()):
        table.add_column(heading, justify="right")
    for row in _rows(answer, truth):
        expanded = "" if row.expanded is None else f"± {row.number(row.expanded)}"
        told = [row.name, row.number(row.measured), expanded]
        table.add_row(*told, *([row.number(row.true), row.within()] if truth else []))
    verdict = str(answer.value("level", "verdict"))
    right = "right" if truth and verdict == truth.due_verdict else "WRONG"
    table.add_row("verdict", verdict, "", *([truth.due_verdict, right] if truth else []))
    if judged is None:
        return Group(table, Text(PLAYED, "dim"))
    level = (
        f"The level: {judged.excess_mL:+.0f} mL above the rim, a thin stream leaves "
        f"{judged.thin_mL:.0f}; within {LEVEL_OFF_mL:.0f} is right.\n"
        f"The foot switch: pressed {judged.presses} times."
    )
    return Group(table, Text(level), Text(RUN, "dim"))


def _rows(answer: Answer, truth: Truth | None) -> Iterator[Row]:
    true = {} if truth is None else _true_values(answer, truth)
    for name, part, key in (
        ("drained", "drained", "volume_L"),
        ("added, at 20 °C", "refill", "added_volume_20C_L"),
        ("spilled", "spill", "volume_L"),
        ("net, at 20 °C", "net", "volume_20C_L"),
    ):
        measured, expanded = answer.number(part, key), answer.number(part, "U_volume_L")
        yield Row(name, "L", 3, measured, expanded, true.get(name))
    name = "fluid at close"
    fluid_C, expanded_K = (
        answer.number("level", key) for key in ("temperature_at_close_C", "U_temperature_C")
    )
    yield Row(name, "°C", 1, fluid_C, expanded_K, true.get(name))
    name = "flow at close"
    flow = answer.number("level", "flow_at_close_mL_per_min")
    yield Row(name, "mL/min", 0, flow, None, true.get(name))


def _true_values(answer: Answer, truth: Truth) -> dict[str, float]:
    true = {
        "drained": truth.drained.volume_L,
        "added, at 20 °C": truth.refill.added_volume_20C_L,
        "spilled": truth.spill.volume_L,
        "net, at 20 °C": truth.net.volume_20C_L,
    }
    for shut_s in answer.times("close-plug")[-1:]:
        true["fluid at close"] = truth.fluid_C(shut_s)
        true["flow at close"] = truth.flow_mL_per_min(shut_s)
    return true


def what_went_wrong(
    result: Mapping[str, object],
    last_step: str,
    truth: Truth | None,
    judged: Judged | None = None,
) -> list[str]:
    """List why a service did not end as it should; empty: it did."""
    answer, wrong = Answer(result), []
    if last_step != "done":
        wrong.append(f"the service ended in the step {last_step}")
    for name, part, key in (
        ("drained volume", "drained", "volume_L"),
        ("added volume", "refill", "added_volume_20C_L"),
        ("net volume", "net", "volume_20C_L"),
    ):
        if answer.number(part, key) is None:
            wrong.append(f"no {name} could be measured")
    verdict = answer.value("level", "verdict")
    if truth is not None and verdict != truth.due_verdict:
        wrong.append(f"the verdict is {verdict}, due is {truth.due_verdict}")
    elif truth is None and verdict == "not-measured":
        wrong.append("the level check could not be measured")
    if judged is not None:
        wrong += _in_closed_loop(answer, truth, judged)
    return wrong


def _in_closed_loop(answer: Answer, truth: Truth | None, judged: Judged) -> Iterator[str]:
    """Tell what a kit that is acted upon must not get wrong."""
    if not judged.is_sealed_right:
        yield (
            f"sealed {judged.verdict} at {judged.shut_C:.1f} °C, "
            f"{judged.excess_mL:+.0f} mL above the rim"
        )
    for row in _rows(answer, truth):
        if row.is_outside:
            yield f"{row.name}: the truth is outside U"
