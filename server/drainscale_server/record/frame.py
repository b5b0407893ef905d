"""The frame of a plot over time: axes, grid, steps, cues, key. Pure."""

from collections.abc import Sequence

from drainscale_server.record.drawing import (
    STYLES,
    Anchor,
    Drawing,
    Label,
    Point,
    Scale,
    round_steps,
)
from drainscale_server.record.model import CueTime, StepTime

WIDTH = 510.0
LEFT, RIGHT = 42.0, 500.0
MARKS_TOP = 12.0  # step numbers, then cue letters in two rows
PLOT_TOP = 42.0
LETTER_ROOM, NUMBER_ROOM = 10.0, 13.0
KEY_HEIGHT = 36.0  # below the plot: minutes, what they are, key
MINUTES = (1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 240.0, 480.0, 1440.0)
CUE_LETTERS = {
    "get-ready": "R",
    "open": "O",
    "shut": "S",
    "add": "A",
    "stop": "!",
    "fault": "F",
}
CUE_KEY = "R get ready, O open, S shut, A add, ! stop, F fault"


class Frame:
    """Axes, grid, steps and cues of one plot over time.

    Args:
        drawing: Where it goes.
        from_s, to_s: What is shown, s of the job.
        y: The value's scale; its ends are the plot's bottom and top.
    """

    def __init__(self, drawing: Drawing, from_s: float, to_s: float, y: Scale) -> None:
        self.drawing, self.y, self.bottom = drawing, y, y.from_pt
        self.x = Scale(from_s / 60.0, max(to_s / 60.0, from_s / 60.0 + 0.5), LEFT, RIGHT)

    @property
    def height(self) -> float:
        """Of the whole drawing."""
        return self.bottom + KEY_HEIGHT

    def shows(self, t_s: float) -> bool:
        """Tell whether an instant is within the plot."""
        return self.x.from_value <= t_s / 60.0 <= self.x.to_value

    def at(self, t_s: float, value: float) -> Point:
        """Tell where a value at an instant lies."""
        return self.x.at(t_s / 60.0), self.y.at(value)

    def edge(self, value: float) -> tuple[Point, Point]:
        """Give the ends of a line across the plot."""
        y = self.y.at(value)
        return (LEFT, y), (RIGHT, y)

    def grid(self, values: Sequence[float], unit: str) -> None:
        """Draw the grid with its numbers, and say what the values are."""
        for minute in round_steps(self.x.from_value, self.x.to_value, 14, MINUTES):
            x = self.x.at(minute)
            self.drawing.line("grid", (x, PLOT_TOP), (x, self.bottom))
            self._say(x, self.bottom + 9.0, f"{minute:g}", "middle")
        for value in values:
            self.drawing.line("grid", *self.edge(value))
            self._say(LEFT - 3.0, self.y.at(value) + 2.5, f"{value:g}", "end")
        middle = (PLOT_TOP + self.bottom) / 2.0
        self.drawing.shapes.append(Label(9.0, middle, unit, "middle", is_upright=True))
        self._say((LEFT + RIGHT) / 2.0, self.bottom + 19.0, "min after the job began", "middle")

    def rim(self) -> None:
        """Draw the axes, over what lies under them."""
        corners = ((LEFT, PLOT_TOP), (LEFT, self.bottom), (RIGHT, self.bottom))
        self.drawing.line("axis", *corners)

    def steps(self, steps: Sequence[StepTime]) -> None:
        """Mark where each step begins, by its number in the list of steps."""
        last_x = 0.0
        for n, step in enumerate(steps, start=1):
            if not self.shows(step.started_s):
                continue
            x = self.x.at(step.started_s / 60.0)
            self.drawing.line("step", (x, MARKS_TOP + 2.0), (x, self.bottom))
            if x - last_x > NUMBER_ROOM:
                self._say(x, MARKS_TOP - 1.0, str(n), "middle")
                last_x = x

    def cues(self, cues: Sequence[CueTime]) -> None:
        """Mark the cues that called for something, each by its letter.

        What calls for an action has its place first; "get ready" goes where there is room left,
        for all are in the table of cues.
        """
        shown = [one for one in cues if one.cue in CUE_LETTERS and self.shows(one.t)]
        taken: list[list[float]] = [[], []]
        for one in sorted(shown, key=lambda one: (one.cue == "get-ready", one.t)):
            x = self.x.at(one.t / 60.0)
            free = [min((abs(x - other) for other in row), default=WIDTH) for row in taken]
            row = 0 if free[0] >= LETTER_ROOM or free[0] >= free[1] else 1
            if one.cue == "get-ready" and free[row] < LETTER_ROOM:
                continue
            taken[row].append(x)
            self._letter(x, MARKS_TOP + 4.0 + 12.0 * row, CUE_LETTERS[one.cue])

    def _letter(self, x: float, top: float, letter: str) -> None:
        self.drawing.box("cue", x - 4.5, top, x + 4.5, top + 10.0)
        self.drawing.shapes.append(Label(x, top + 7.6, letter, "middle", 7.0, is_bold=True))

    def key(self, *entries: tuple[str, str]) -> None:
        """Explain the styles, in one row under the plot."""
        x, y = LEFT, self.bottom + 32.0
        for style, words in entries:
            if STYLES[style].fill:
                self.drawing.box(style, x, y - 6.0, x + 18.0, y)
            else:
                self.drawing.line(style, (x, y - 2.5), (x + 18.0, y - 2.5))
            self._say(x + 21.0, y, words)
            x += 21.0 + 3.9 * len(words) + 8.0

    def _say(self, x: float, y: float, text: str, anchor: Anchor = "start") -> None:
        self.drawing.shapes.append(Label(x, y, text, anchor))
