"""Show the figures as a table for people."""

from collections.abc import Sequence

from rich.box import SIMPLE_HEAD
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from drainscale_sim.score.figures import BESIDE, FIRST, REACH, Bound
from drainscale_sim.score.grade import Graded
from drainscale_sim.score.report import Report
from drainscale_sim.score.tally import Tally

SHOWN_COMPLAINTS = 3


def tables(report: Report) -> RenderableType:
    """Return both sets of figures, and what went wrong."""
    parts: list[RenderableType] = [
        _graded_table("Numbers to reach", report.grades(REACH)),
        _graded_table("A first version holds", report.grades(FIRST)),
        _beside(report),
        Text(
            "SHORT: misses the must; no: misses the aim; –: no case; "
            "*: too few cases for the upper limit"
        ),
        _counted(report),
    ]
    parts += [Text(f"FAILED {name}: {why}", "bold red") for name, why in report.failed.items()]
    for name, faults in report.malformed.items():
        shown = "; ".join(faults[:SHOWN_COMPLAINTS])
        more = len(faults) - SHOWN_COMPLAINTS
        tail = f"; and {more} more" if more > 0 else ""
        parts.append(Text(f"MALFORMED {name}: {shown}{tail}", "bold red"))
    return Group(*parts)


def _counted(report: Report) -> Text:
    grades = [graded for graded in report.grades(REACH) if graded.value is not None]
    must = sum(graded.keeps_must is True for graded in grades)
    aim = sum(graded.keeps_aim is True for graded in grades)
    return Text(
        f"{report.recordings} recordings, {len(report.failed)} failed, "
        f"{len(report.malformed)} malformed; of {len(grades)} figures with a case "
        f"{must} keep the must, {aim} the aim"
    )


def _plain_table(title: str) -> Table:
    """A table narrow enough for 80 columns, its title in a line of its own above a gap."""
    return Table(
        title=f"\n{title}",
        title_justify="left",
        box=SIMPLE_HEAD,
        padding=(0, 1, 0, 0),
        show_edge=False,
    )


def _graded_table(title: str, grades: Sequence[Graded]) -> Table:
    table = _plain_table(title)
    table.add_column("figure", no_wrap=True)
    for heading in ("measured", "n", "must", "", "aim", ""):
        table.add_column(heading, justify="right" if heading else "left", no_wrap=True)
    for graded in grades:
        figure = graded.figure
        table.add_row(
            figure.name,
            _measured(graded),
            str(graded.n),
            _bound(figure.must),
            _mark(graded, figure.must, kept=graded.keeps_must),
            _bound(figure.aim),
            _mark(graded, figure.aim, kept=graded.keeps_aim, short="no"),
        )
    return table


def _beside(report: Report) -> Table:
    table = _plain_table("Beside them")
    table.add_column("figure")
    for heading in ("measured", "n"):
        table.add_column(heading, justify="right", no_wrap=True)
    for graded in report.grades(BESIDE):
        table.add_row(graded.figure.name, _measured(graded), str(graded.n))
    return table


def _measured(graded: Graded) -> str:
    if graded.value is None:
        return "–"
    return f"{_number(graded.value)} {graded.figure.unit}".rstrip()


def _number(value: float) -> str:
    """Three significant digits or two decimals, without an exponent."""
    size = abs(value)
    return f"{value:.0f}" if size >= 99.95 else f"{value:.1f}" if size >= 9.995 else f"{value:.2f}"


def _bound(bound: Bound | None) -> str:
    if bound is None:
        return ""
    if bound.low is None or bound.high is None:
        sign, limit = ("≥", bound.low) if bound.high is None else ("≤", bound.high)
        return f"{sign} {limit:.4g}"
    return f"{bound.low:.4g} to {bound.high:.4g}"


def _mark(graded: Graded, bound: Bound | None, *, kept: bool | None, short: str = "SHORT") -> Text:
    if bound is None:
        return Text("")
    if kept is None:
        return Text("–", "dim")
    if not kept:
        return Text(short, "bold red" if short.isupper() else "yellow")
    above = bound.high is not None and graded.value is not None and graded.value > bound.high
    return Text("ok*" if above else "ok", "green")


EACH: tuple[tuple[str, str], ...] = (
    ("drain mL", "drained_mL.error"),
    ("U mL", "drained_mL.U"),
    ("add g", "added_g.error"),
    ("net mL", "net_mL.error"),
    ("opens s", "opens_120.error_s"),
    ("fluid K", "fluid_K.abs_error"),
    ("open K", "open_plug.above_lower_K"),
    ("shut flow", "close_plug.flow_to_limit"),
    ("shut s", "close_plug.delay_s"),
    ("verdict", "verdict.right"),
)


def each_table(report: Report) -> Table:
    """Return one line a recording, for finding where a figure comes from."""
    table = _plain_table("Each recording")
    table.padding = (0, 0, 0, 0)
    table.add_column("recording", no_wrap=True)
    for heading, _ in EACH:
        table.add_column(heading.replace(" ", "\n"), justify="right", no_wrap=True)
    for name, tally in sorted(report.each.items()):
        table.add_row(name, *(_cell(tally, key) for _, key in EACH))
    return table


def _cell(tally: Tally, key: str) -> str:
    """The mean of a recording's values, short; or whether its one count was right."""
    values = tally.values.get(key)
    if values:
        mean = sum(values) / len(values)
        return f"{mean:.2f}" if abs(mean) < 9.995 else f"{mean:.0f}"
    share = tally.share(key)
    return "–" if share is None else "ok" if share == 1.0 else "WRONG"
