"""What to send, to send again, and to take for delivered. Pure: no socket, no clock, no disk.

For each start of the agent (boot) that the spool knows, three numbers:

    through <= sent <= last      acknowledged end to end; handed to the broker; in the spool

Between ``through`` and ``sent`` stands at most a window. Each boot has its own, so that one the
server is stuck with does not stop the others; older boots go first.
"""

from collections.abc import Iterable
from dataclasses import dataclass

WINDOW_N = 100
PATIENCE_S = 10.0
MAX_PATIENCE_S = 300.0


@dataclass(frozen=True, slots=True)
class Standing:
    """How far one boot is: acknowledged ``through``, stored up to ``last``."""

    boot: str
    through: int
    last: int


@dataclass(frozen=True, slots=True)
class Span:
    """Numbers ``first`` to ``last`` of one boot, both included."""

    boot: str
    first: int
    last: int


@dataclass(slots=True)
class _Way:
    through: int
    sent: int
    last: int
    moved_s: float = 0.0
    patience_s: float = PATIENCE_S


class Session:
    """Decides what goes out next over a link that may break at any time."""

    def __init__(self, window_n: int = WINDOW_N, patience_s: float = PATIENCE_S) -> None:
        self._window_n = window_n
        self._patience_s = patience_s
        self._ways: dict[str, _Way] = {}

    def update(self, standings: Iterable[Standing]) -> None:
        """Learn what the spool holds; boots that it no longer knows are dropped."""
        known: dict[str, _Way] = {}
        for one in standings:
            way = self._ways.get(one.boot)
            if way is None:
                way = _Way(one.through, one.through, one.last, patience_s=self._patience_s)
            way.last = one.last
            known[one.boot] = way
        self._ways = known

    def connected(self, now_s: float) -> None:
        """A link is up: whatever is not acknowledged goes again, whoever had it before."""
        for way in self._ways.values():
            _rewind(way, now_s)
            way.patience_s = self._patience_s

    def due(self, limit_n: int) -> Span | None:
        """Tell what goes out next, at most ``limit_n`` messages; None if nothing is due."""
        for boot, way in self._ways.items():
            end = min(way.last, way.through + self._window_n, way.sent + limit_n)
            if end > way.sent:
                return Span(boot, way.sent + 1, end)
        return None

    def sent(self, span: Span, now_s: float) -> None:
        """A span was handed to the broker."""
        way = self._ways[span.boot]
        if way.sent == way.through:
            way.moved_s = now_s
        way.sent = max(way.sent, span.last)

    def acknowledged(self, boot: str, through: int, now_s: float) -> bool:
        """The server says that all up to ``through`` is stored.

        Returns:
            Whether that is news. Late and repeated words are none, nor is one about a boot that
            the spool no longer knows.

        Raises:
            ValueError: It speaks of a number that was never given out.
        """
        way = self._ways.get(boot)
        if way is None or through <= way.through:
            return False
        if through > way.last:
            raise ValueError(f"boot {boot}: {through} acknowledged, but the last is {way.last}")
        way.through = through
        way.sent = max(way.sent, through)
        way.moved_s = now_s
        way.patience_s = self._patience_s
        return True

    def rewind_stalled(self, now_s: float) -> list[str]:
        """Send again what has been without an answer for too long; ever more patiently.

        Returns:
            The boots that are sent again.
        """
        stalled = [
            boot
            for boot, way in self._ways.items()
            if way.sent > way.through and now_s - way.moved_s >= way.patience_s
        ]
        for boot in stalled:
            way = self._ways[boot]
            _rewind(way, now_s)
            way.patience_s = min(2.0 * way.patience_s, MAX_PATIENCE_S)
        return stalled


def _rewind(way: _Way, now_s: float) -> None:
    way.sent = way.through
    way.moved_s = now_s
