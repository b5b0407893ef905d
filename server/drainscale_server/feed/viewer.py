"""One tab that follows a bench: its bounded queue, and its stream of server-sent events.

A viewer that is too slow loses the oldest changes; since they may have held the only word about a
section, it gets the whole state instead of what is left.

Source of the form: HTML Living Standard, 9.2 (server-sent events).
"""

import asyncio
from collections import deque
from collections.abc import AsyncIterator, Callable

BEAT_S = 1.0  # of silence, after which the viewer is told that the server lives
QUEUE_N = 25  # changes, some five seconds
RETRY_MS = 1000
# Then a viewer is asked to come again: the kernels' buffers may hold what is told for a day, so one
# that reads nothing would not be noticed by that alone.
LIFE_S = 600.0


def message(event: str, data: bytes) -> bytes:
    """Write one event; ``data`` is one line of JSON."""
    return b"event: " + event.encode() + b"\ndata: " + data + b"\n\n"


class Viewer:
    """One viewer; all within the event loop.

    Args:
        snapshot: Gives the whole state as it was last told to all, encoded.
        beat: Gives the data of a beat.
        queue_n: How many changes may wait.
        beat_s: After how much silence there is a beat.
    """

    def __init__(
        self,
        snapshot: Callable[[], bytes],
        beat: Callable[[], bytes],
        queue_n: int = QUEUE_N,
        beat_s: float = BEAT_S,
    ) -> None:
        self._snapshot = snapshot
        self._beat = beat
        self._queue_n = queue_n
        self._beat_s = beat_s
        self._queue: deque[bytes] = deque()
        self._is_behind = True
        self._is_closed = False
        self._ready = asyncio.Event()
        self._ready.set()

    def put(self, change: bytes) -> None:
        """Tell a change; the state is sent whole if it is one too many."""
        if self._is_behind:
            return
        if len(self._queue) >= self._queue_n:
            self._queue.clear()
            self._is_behind = True
        else:
            self._queue.append(change)
        self._ready.set()

    def close(self) -> None:
        """End the stream."""
        self._is_closed = True
        self._ready.set()

    async def stream(self) -> AsyncIterator[bytes]:
        """Give the stream, whole state first, until ``close`` or the end of its life."""
        clock = asyncio.get_running_loop().time
        ends_s = clock() + LIFE_S
        yield f"retry: {RETRY_MS}\n\n".encode()
        while not self._is_closed:
            if clock() >= ends_s:
                yield message("again", b"{}")
                return
            try:
                await asyncio.wait_for(self._ready.wait(), self._beat_s)
            except TimeoutError:
                yield message("beat", self._beat())
                continue
            self._ready.clear()
            for told in self._take():
                yield told

    def _take(self) -> list[bytes]:
        if self._is_closed:
            return []
        if self._is_behind:
            self._is_behind = False
            self._queue.clear()
            return [message("snapshot", self._snapshot())]
        taken = [message("change", change) for change in self._queue]
        self._queue.clear()
        return taken
