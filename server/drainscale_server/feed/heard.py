"""What was last heard of a bench, and the trend of its figures. Pure: times are handed in."""

from collections import deque
from dataclasses import dataclass, field

from drainscale.messages.telegrams import Figures, Live, Status
from drainscale_server.feed.board_state import TREND_N, TREND_S, TrendPart

POINT_EVERY_S = TREND_S / TREND_N


@dataclass(frozen=True, slots=True)
class Point:
    """One point of the trend, and its running number."""

    number: int
    t: float
    flow_mL_per_min: float | None
    fluid_C: float | None
    U_fluid_C: float | None
    pan_C: float | None


@dataclass(slots=True)
class Heard:
    """The last telegrams of one bench; one thread at a time.

    Attributes:
        live_s, message_s: When the server heard the last live figures, and anything at all.
        cue_since_t: Job's time at which the present cue was first heard.
        points: The trend of the job that ``live`` speaks of.
    """

    status: Status | None = None
    live: Live | None = None
    live_s: float | None = None
    message_s: float | None = None
    cue_since_t: float | None = None
    points: deque[Point] = field(default_factory=lambda: deque(maxlen=TREND_N))
    points_n: int = 0

    @property
    def boot(self) -> str | None:
        """Which start of the kit spoke last."""
        newest = self._newest()
        return None if newest is None else newest.boot

    @property
    def now_s(self) -> float | None:
        """The kit's clock, as it said last; None if it did not."""
        newest = self._newest()
        return None if newest is None else newest.now_s

    def shift(self, by_s: float) -> None:
        """Let what was heard keep its age: the server's clock was set by so much."""
        self.live_s = None if self.live_s is None else self.live_s + by_s
        self.message_s = None if self.message_s is None else self.message_s + by_s

    def _newest(self) -> Live | Status | None:
        if self.live is not None and self.live_s == self.message_s:
            return self.live
        return self.status or self.live

    def take_status(self, status: Status, now_s: float | None) -> None:
        """Take a status; ``now_s``: None if nobody knows when it was said."""
        self.status = status
        if now_s is not None:
            self.message_s = now_s

    def take_live(self, live: Live, now_s: float) -> None:
        """Take live figures."""
        before = self.live
        if before is None or (before.job, before.boot) != (live.job, live.boot):
            self.cue_since_t = None
        if before is None or before.job != live.job:
            self.points.clear()
        figures = live.figures
        if figures is not None:
            if before is None or before.cue != live.cue or self.cue_since_t is None:
                self.cue_since_t = figures.t
            self._add_point(figures)
        self.live = live
        self.live_s = self.message_s = now_s

    def _add_point(self, figures: Figures) -> None:
        if self.points and 0.0 <= figures.t - self.points[-1].t < POINT_EVERY_S:
            return
        self.points_n += 1
        self.points.append(
            Point(
                self.points_n,
                figures.t,
                figures.flow_mL_per_min,
                figures.fluid_C,
                figures.U_fluid_C,
                figures.pan_C,
            )
        )

    def trend(self, after: int = 0) -> TrendPart:
        """Give the points of the last ten minutes whose number is above ``after``."""
        points = list(self.points)
        oldest_t = points[-1].t - TREND_S if points else 0.0
        shown = [point for point in points if point.number > after and point.t >= oldest_t]
        return TrendPart(
            t=tuple(point.t for point in shown),
            flow_mL_per_min=tuple(point.flow_mL_per_min for point in shown),
            fluid_C=tuple(point.fluid_C for point in shown),
            U_fluid_C=tuple(point.U_fluid_C for point in shown),
            pan_C=tuple(point.pan_C for point in shown),
        )
