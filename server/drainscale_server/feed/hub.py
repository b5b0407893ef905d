"""All benches and their viewers: takes what comes in, tells each viewer what changed.

    ingest's threads:  on_status, on_live, on_stored      only note it
    the event loop:    run, five times a second           reads, composes, compares, tells

A bench that nobody looks at costs nothing but the note.
"""

import asyncio
import logging
import threading
import time
from collections.abc import AsyncIterator, Callable, Iterable
from dataclasses import dataclass, field

import msgspec

from drainscale.errors import DrainscaleError
from drainscale.messages.telegrams import Live, Status
from drainscale_server.feed.board_state import BoardState
from drainscale_server.feed.compose import compose
from drainscale_server.feed.heard import Heard
from drainscale_server.feed.stored_part import StoredPart, read_stored
from drainscale_server.feed.viewer import Viewer
from drainscale_server.store.store import Store

TURN_S = 0.2  # at most five changes a second
ANEW_S = 1.0  # ages grow although nothing comes
JUMP_S = 0.5  # less is a clock that is being adjusted
VIEWERS_N = 200
ASIDE = ("server", "trend")  # sections that are told with others, or bit by bit

log = logging.getLogger(__name__)
Key = tuple[str, str]


@dataclass(slots=True)
class _Watched:
    """One bench: what is known of it, what its viewers were told."""

    heard: Heard = field(default_factory=Heard)
    stored: StoredPart = field(default_factory=StoredPart)
    is_stored_old: bool = True  # the store has news
    is_heard_new: bool = True
    told_s: float = float("-inf")
    sections: dict[str, bytes] = field(default_factory=dict)
    state: BoardState | None = None
    points_n: int = 0  # of the trend, told
    viewers: set[Viewer] = field(default_factory=set)


class Feed:
    """The live feed of all benches.

    Args:
        store: Where jobs and what is told of them are kept.
        clock: The server's clock, s since 1970-01-01 UTC.
        faults: Tells what keeps the server from its work, a line each.
        steady: A clock that nobody sets, s; None: nobody sets the first one either.
    """

    def __init__(
        self,
        store: Store,
        clock: Callable[[], float] = time.time,
        faults: Callable[[], tuple[str, ...]] = tuple,
        steady: Callable[[], float] | None = None,
    ) -> None:
        self._store = store
        self._clock = clock
        self._faults = faults
        self._steady = steady or clock
        self._offset_s = clock() - self._steady()
        self._lock = threading.Lock()
        self._watched: dict[Key, _Watched] = {}
        self._is_closed = False

    # --- from the ingest's threads ---------------------------------------------------------------

    def on_status(self, status: Status, is_retained: bool = False) -> None:
        """Note a status; one that the broker had kept tells nothing of when it was said."""
        with self._lock:
            self._mind_clock()
            watched = self._of((status.site, status.bench))
            watched.heard.take_status(status, None if is_retained else self._clock())
            watched.is_heard_new = True

    def on_live(self, live: Live) -> None:
        """Note live figures."""
        with self._lock:
            self._mind_clock()
            watched = self._of((live.site, live.bench))
            watched.heard.take_live(live, self._clock())
            watched.is_heard_new = True

    def on_news(self, benches: Iterable[Key]) -> None:
        """Note that the store has news of these benches' jobs."""
        with self._lock:
            for key in benches:
                self._of(key).is_stored_old = True

    def _of(self, key: Key) -> _Watched:
        return self._watched.setdefault(key, _Watched())

    def _mind_clock(self) -> None:
        """Let all that was heard keep its age when somebody sets the clock; within the lock.

        Else a value would look fresh for as long as the clock was set back.
        """
        offset_s = self._clock() - self._steady()
        jump_s, self._offset_s = offset_s - self._offset_s, offset_s
        if abs(jump_s) < JUMP_S:
            return
        log.warning("feed: the clock was set by %.1f s", jump_s)
        for watched in self._watched.values():
            watched.heard.shift(jump_s)
            watched.told_s += jump_s

    # --- for the routes --------------------------------------------------------------------------

    def heard(self, site: str, bench: str) -> Heard:
        """Give what was last heard of a bench; empty if nothing was. A copy of the moment."""
        with self._lock:
            watched = self._watched.get((site, bench))
            if watched is None:
                return Heard()
            heard = watched.heard
            return Heard(heard.status, heard.live, heard.live_s, heard.message_s)

    def now_s(self) -> float:
        """Tell the server's time."""
        return self._clock()

    # --- within the event loop -------------------------------------------------------------------

    async def open(self, site: str, bench: str) -> Viewer | None:
        """Begin to watch a bench; None if there are too many viewers, or it is all over.

        Raises:
            StoreError: The store refuses.
        """
        if self._is_closed or self._viewers_n() >= VIEWERS_N:
            return None
        with self._lock:
            watched = self._of((site, bench))
        await self._refresh((site, bench), watched, is_forced=True)
        viewer = Viewer(lambda: self._snapshot(watched), self._beat)
        watched.viewers.add(viewer)
        return viewer

    async def stream(self, viewer: Viewer) -> AsyncIterator[bytes]:
        """Give a viewer's stream; the viewer ends with it."""
        try:
            async for told in viewer.stream():
                yield told
        finally:
            self.leave(viewer)

    def leave(self, viewer: Viewer) -> None:
        """End a viewer; harmless if it is gone."""
        viewer.close()
        for watched in self._watched.values():
            watched.viewers.discard(viewer)

    def close(self) -> None:
        """End all viewers; nobody gets in any more."""
        self._is_closed = True
        for watched in list(self._watched.values()):
            for viewer in list(watched.viewers):
                viewer.close()

    async def run(self) -> None:
        """Tell changes until cancelled."""
        while True:
            await asyncio.sleep(TURN_S)
            await self.turn()

    async def turn(self) -> None:
        """Tell what changed since the last turn."""
        with self._lock:
            self._mind_clock()
            looked_at = [(key, one) for key, one in self._watched.items() if one.viewers]
        for key, watched in looked_at:
            try:
                await self._refresh(key, watched)
            except DrainscaleError as error:  # the store refuses: the figures go on
                log.error("feed: %s/%s: %s", *key, error)
            except Exception:  # one bench that breaks something must not stop all boards
                watched.told_s = self._clock()  # not again five times a second
                log.exception("feed: %s/%s", *key)

    async def _refresh(self, key: Key, watched: _Watched, *, is_forced: bool = False) -> None:
        now_s = self._clock()
        if watched.is_stored_old:
            watched.is_stored_old = False
            try:
                watched.stored = await asyncio.to_thread(
                    read_stored, self._store, *key, self._clock()
                )
            except DrainscaleError:
                watched.is_stored_old = True
                raise
        elif not (is_forced or watched.is_heard_new or now_s - watched.told_s >= ANEW_S):
            return
        with self._lock:
            watched.is_heard_new = False
            state = compose(*key, watched.stored, watched.heard, now_s, self._faults())
            added = watched.heard.trend(watched.points_n)
            watched.points_n = watched.heard.points_n
        self._tell(watched, state, msgspec.to_builtins(added) if added.t else None, now_s)

    def _tell(self, watched: _Watched, state: BoardState, added: object, now_s: float) -> None:
        sections = {
            name: msgspec.json.encode(getattr(state, name))
            for name in state.__struct_fields__
            if name not in ASIDE
        }
        changed = [name for name, raw in sections.items() if watched.sections.get(name) != raw]
        if watched.state is not None and watched.state.server.faults != state.server.faults:
            changed.append("server")
        watched.sections, watched.state, watched.told_s = sections, state, now_s
        if not watched.viewers or not (changed or added):
            return
        change: dict[str, object] = {
            name: msgspec.Raw(sections[name]) for name in changed if name in sections
        }
        change["server"] = state.server
        is_gone = "figures" in changed and state.figures is None
        if is_gone or "job" in changed:  # another job has a trend of its own
            change["trend"] = state.trend
        elif added is not None:
            change["trend_add"] = added
        raw = msgspec.json.encode(change)
        for viewer in watched.viewers:
            viewer.put(raw)

    def _snapshot(self, watched: _Watched) -> bytes:
        assert watched.state is not None
        return msgspec.json.encode(watched.state)

    def _beat(self) -> bytes:
        return msgspec.json.encode({"now_s": self._clock()})

    def _viewers_n(self) -> int:
        return sum(len(watched.viewers) for watched in self._watched.values())
