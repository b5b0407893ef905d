"""The demo's screen: a fixed layout for 80 by 24 characters and more."""

from rich.layout import Layout
from rich.panel import Panel
from rich.progress_bar import ProgressBar
from rich.table import Table
from rich.text import Text

from drainscale.quantities.job import Job
from drainscale_sim.demo import panels
from drainscale_sim.demo.course import Course
from drainscale_sim.demo.guide import guide
from drainscale_sim.demo.trend import chart
from drainscale_sim.demo.words import clock

LEAST_COLUMNS, LEAST_ROWS = 80, 24
STEPS_WIDTH = 20
CUE_ROWS, MEASURED_ROWS = 6, 8
WIDE_COLUMNS = 120
NARROW_EVENTS, WIDE_EVENTS = 35, 45  # hold the longest words of an event
LEAST_LOWER_ROWS = 18  # holds the cautions in full
LEAST_TREND_ROWS, MOST_TREND_ROWS = 6, 12  # only where there is room for it
FRAME_ROWS = 2  # the header and the footer


def screen(course: Course, job: Job, title: str, cue_for_s: float, size: tuple[int, int]) -> Layout:
    """Draw the whole screen.

    Args:
        course: The service as far as it has run.
        job: Its job.
        title: What is played.
        cue_for_s: Seconds at the terminal since the present cue began.
        size: Columns and rows of the terminal.
    """
    lower_rows = size[1] - FRAME_ROWS - CUE_ROWS - MEASURED_ROWS
    trend_rows = min(lower_rows - LEAST_LOWER_ROWS, MOST_TREND_ROWS)
    parts = [
        Layout(_header(course, title), size=1),
        Layout(_upper(course, job, cue_for_s), size=CUE_ROWS + MEASURED_ROWS),
    ]
    if trend_rows >= LEAST_TREND_ROWS:
        lower_rows -= trend_rows
        parts.append(Layout(_trend(course, job, size[0], trend_rows), size=trend_rows))
    whole = Layout()
    whole.split_column(
        *parts,
        Layout(_lower(course, lower_rows, is_wide=size[0] >= WIDE_COLUMNS)),
        Layout(Text(guide().footer, "dim", justify="center", overflow="crop"), size=1),
    )
    return whole


def _header(course: Course, title: str) -> Table:
    header = Table.grid(expand=True, padding=(0, 1))
    header.add_column(no_wrap=True)
    header.add_column(ratio=1)
    header.add_column(no_wrap=True, justify="right")
    done = ProgressBar(total=max(course.duration_s, 1.0), completed=course.t, complete_style="cyan")
    of = "of" if course.is_length_known else "of about"
    times = f"{clock(course.t)} {of} {clock(course.duration_s)}"
    header.add_row(Text(f"drainscale  {title}", "bold"), done, times)
    return header


def _upper(course: Course, job: Job, cue_for_s: float) -> Layout:
    upper = Layout()
    right = Layout()
    right.split_column(
        Layout(
            Panel(panels.cue(course.now, cue_for_s, course.signals), title="cue"), size=CUE_ROWS
        ),
        Layout(Panel(panels.measured(course.now, job), title="measured")),
    )
    upper.split_row(
        Layout(Panel(panels.steps(course, job), title="steps"), size=STEPS_WIDTH), right
    )
    return upper


def _trend(course: Course, job: Job, columns: int, rows: int) -> Panel:
    window_C = job.procedure.window_C
    drawn = chart(course.fluid, course.duration_s, window_C, columns - 4, rows - 2)
    return Panel(drawn, title="estimated fluid temperature, window shaded")


def _lower(course: Course, rows: int, *, is_wide: bool) -> Layout:
    told = Panel(panels.events(course.told, rows - 2, with_step=is_wide), title="events")
    in_full = is_wide and rows >= LEAST_LOWER_ROWS
    care = panels.care(course.now, in_full=in_full)
    lower = Layout()
    lower.split_row(
        Layout(told, size=WIDE_EVENTS if is_wide else NARROW_EVENTS),
        Layout(Panel(care, title="take care", border_style="yellow")),
    )
    return lower
