"""The parts of the demo's screen, each drawn from the course of a service."""

from collections.abc import Sequence, Set

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from drainscale.quantities.job import Job
from drainscale.quantities.samples import STEP_NAMES
from drainscale.signals.vocabulary import Cue, vocabulary
from drainscale_sim.demo.course import Course, Signals
from drainscale_sim.demo.guide import GRAVE, cautions_now, guide
from drainscale_sim.demo.snapshot import Snapshot, Told
from drainscale_sim.demo.words import (
    ACTION_EVENTS,
    FOOT,
    UNUSUAL_EVENTS,
    bar,
    celsius,
    clock,
    event_words,
    flow,
    litres,
    millilitres,
    per_cent,
    quarts,
)

LAMP_STYLES = {
    "red": "bold red",
    "amber": "bold yellow",
    "blue": "bold blue",
    "white": "bold white",
}
STEP_MARKS = {"done": ("✓", "green"), "now": ("▶", "bold"), "to come": ("·", "dim")}
ADDED_BAR = 12
DRAIN_STEPS = ("drain", "drain-pan")
SPILL_STEPS = ("level", "seal", "done")


def steps(course: Course, job: Job) -> RenderableType:
    """Draw the steps: done, now, to come."""
    text = Text()
    for step in STEP_NAMES:
        if step == "drain-pan" and job.procedure.level_method == "check-plug":
            continue
        state = course.step_state(step)
        mark, style = STEP_MARKS[state]
        text.append(f"{mark} {step:<10}{' now' if state == 'now' else ''}\n", style)
    if course.signals is not None:
        text.append(f"\nfoot switch {course.signals.presses} ×", "bold")
    return text


def cue(now: Snapshot, shown_for_s: float, signals: Signals | None = None) -> RenderableType:
    """Draw the lamps by their place from the top, and the cue in words.

    Args:
        now: What is known, the cue and its reason among it.
        shown_for_s: Seconds at the terminal since the cue began: its lamp follows its pattern.
        signals: What the board's pins do; ``None``: what the cue asks them to do is drawn.
    """
    shown = vocabulary().cues[now.cue]
    grid = Table.grid(padding=(0, 2, 0, 0))
    grid.add_column(no_wrap=True)
    grid.add_column()
    meant, sounds = {shown.lamp}, False
    if signals is not None:
        meant, sounds = signals.lit(now.t), signals.sounds(now.t)
    words = _cue_words(shown, now.why, sounds=sounds)
    grid.add_row(_lamps(shown, meant, shown_for_s), words)
    return grid


def _lamps(shown: Cue, meant: Set[str], shown_for_s: float) -> Text:
    text = Text()
    for lamp in vocabulary().lamps:
        is_meant = lamp.name in meant
        is_lit = is_meant and vocabulary().is_lit(shown, shown_for_s)
        style = LAMP_STYLES[lamp.name] if is_meant else "dim"
        pattern = shown.pattern if is_meant and lamp.name == shown.lamp else ""
        text.append(f"{'●' if is_lit else '○'} {lamp.name:<6}{pattern:<7}\n", style)
    return text


def _cue_words(shown: Cue, why: str | None, *, sounds: bool) -> Text:
    text = Text()
    text.append(f" {shown.symbol}  {shown.word} ", f"{LAMP_STYLES[shown.lamp]} reverse")
    if shown.sound is not None:
        beeps = vocabulary().sounds[shown.sound].beeps
        count = "1 beep" if beeps == 1 else f"{beeps} beeps"
        text.append(f"  ♪ {count} every {shown.repeat_s:.0f} s", "bold" if sounds else "dim")
    text.append(f"\n{shown.text}\n", "bold")
    text.append(why or shown.means, "dim")
    return text


def measured(now: Snapshot, job: Job) -> RenderableType:
    """Draw the live figures; unknown ones as a dash."""
    grid = Table.grid(padding=(0, 1))
    grid.add_column(style="dim", width=8)
    grid.add_column()
    drained = f"{litres(now.drained_L, now.U_drained_L)} at 20 °C   {quarts(now.drained_L)}"
    grid.add_row("drained", drained)
    grid.add_row("added", _added(now))
    grid.add_row("flow", f"{flow(now.flow_mL_per_min):<14}{_beside_flow(now)}")
    fluid = f"{celsius(now.fluid_C, now.U_fluid_K)} estimated fluid temperature"
    grid.add_row("fluid", Text(fluid, "bold"))
    grid.add_row("pan", _pan(now))
    grid.add_row("window", _window(now, job))
    return grid


def _added(now: Snapshot) -> str:
    if now.target_L is None:
        return litres(now.added_L, now.U_added_L)
    if now.step in DRAIN_STEPS:
        return f"nothing yet; to refill so far {litres(now.target_L)}"
    share = (now.added_L or 0.0) / now.target_L if now.target_L > 0.0 else 0.0
    return (
        f"{litres(now.added_L, now.U_added_L)} of {now.target_L:.3f} L "
        f"{bar(share, ADDED_BAR)} {per_cent(share)}"
    )


def _pan(now: Snapshot) -> Text | str:
    if "pan" in now.faults:
        return Text(f"{celsius(None)} the clamp gives no value", "bold yellow")
    return f"{celsius(now.pan_C)} reads the clamp on the pan"


def _beside_flow(now: Snapshot) -> str:
    """Tell what the flow has brought or is still to bring."""
    if now.step in DRAIN_STEPS and now.still_to_come_mL is not None:
        return f"still to come {millilitres(now.still_to_come_mL)}"
    return f"spilled {millilitres(now.spilled_mL)}" if now.step in SPILL_STEPS else ""


def _window(now: Snapshot, job: Job) -> str:
    """Tell the window, and what is forecast: its opening, then its closing and the spill's end."""
    low_C, high_C = job.procedure.window_C
    limits = f"{low_C:.0f} to {high_C:.0f} °C"
    if now.opens_s is None:
        return limits
    if now.t < now.opens_s:
        return f"{limits} opens in {clock(now.opens_s - now.t)}{_span(now)}"
    return f"{limits}{_closing(now)}{_finish(now)}"


def _span(now: Snapshot) -> str:
    if now.opens_90 is None:
        return ""
    from_s, until_s = (max(0.0, limit_s - now.t) for limit_s in now.opens_90)
    return f" (90 %: {clock(from_s)} to {clock(until_s)})"


def _closing(now: Snapshot) -> str:
    if now.closes_s is None:
        return " is open"
    left_s = now.closes_s - now.t
    return f" closes in {clock(left_s)}" if left_s > 0.0 else f" closed {clock(-left_s)} ago"


def _finish(now: Snapshot) -> str:
    """Tell when the spill is thin, and how surely that is inside the window."""
    if now.finishes_s is None or now.step != "level":
        return ""
    left_s = now.finishes_s - now.t
    if left_s <= 0.0:
        return ", spill is thin"
    sure = now.p_finish_in_window
    return f", thin in {clock(left_s)}" + ("" if sure is None else f" ({per_cent(sure)})")


def events(told: Sequence[Told], rows: int, *, with_step: bool) -> RenderableType:
    """Draw the last events, newest at the bottom."""
    text = Text(no_wrap=True, overflow="ellipsis")
    for event in told[-rows:] if rows > 0 else []:
        text.append(f"{clock(event.t):>5} ", "dim")
        if with_step:
            text.append(f"{event.step:<10}", "dim")
        text.append(f"{event_words(event.event, event.sensor)}\n", event_style(event.event))
    return text


def event_style(event: str) -> str:
    """Name the style of an event's words: blue asks for an action, yellow is not as usual."""
    if event == FOOT:
        return "bold"
    if event in UNUSUAL_EVENTS:
        return "bold yellow"
    return "bold blue" if event in ACTION_EVENTS else ""


def care(now: Snapshot, *, in_full: bool) -> RenderableType:
    """Draw what to do in this step, and what may hurt there: in full, or in two columns."""
    cautions = Table.grid(padding=(0, 1, 0, 0))
    marked = []
    for caution in cautions_now(now):
        style = "bold red" if caution.id in GRAVE else "yellow"
        words = caution.text if in_full else guide().short[caution.id]
        marked += [Text("⚠", style), Text(words, style)]
    width = 2 if in_full else 4
    for start in range(0, len(marked), width):
        cautions.add_row(*marked[start : start + width])
    return Group(Text(f"▶ {guide().now[now.step]}", "bold"), cautions)
