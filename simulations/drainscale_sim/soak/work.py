"""Pieces of work in processes, so many at a time; each says on standard error when it has ended."""

import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import contextmanager
from functools import partial
from multiprocessing import get_context
from typing import ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")

_interrupted = threading.Event()  # in a worker: from the keyboard


def _do(piece: Callable[[], T]) -> T:
    """Do a piece of work in a worker; none after an interrupt, though some wait there already."""
    if _interrupted.is_set():
        raise KeyboardInterrupt
    try:
        return piece()
    except KeyboardInterrupt:
        _interrupted.set()
        raise


class Work:
    """Hands out work.

    Args:
        pool: Who does it.
        whole_n: How many pieces there will be.
    """

    def __init__(self, pool: ProcessPoolExecutor, whole_n: int) -> None:
        self._pool, self._whole_n = pool, whole_n
        self._ended_n = 0
        self._began_s = time.monotonic()

    def begin(
        self, title: str, piece: Callable[P, T], *args: P.args, **named: P.kwargs
    ) -> Future[T]:
        """Have a piece of work done as soon as there is room; first come, first served."""
        running = self._pool.submit(_do, partial(piece, *args, **named))
        running.add_done_callback(lambda ended: self._tell(title, ended))
        return running

    def lasted(self) -> str:
        """Say how long it has taken so far."""
        minutes, seconds = divmod(round(time.monotonic() - self._began_s), 60)
        return f"{minutes} min {seconds:02d} s"

    def _tell(self, title: str, ended: Future[T]) -> None:
        error = None if ended.cancelled() else ended.exception()
        if ended.cancelled() or isinstance(error, KeyboardInterrupt):
            return
        self._ended_n += 1
        how = str(ended.result()) if error is None else f"{type(error).__name__}: {error}"
        # one write, for the pool's thread and ours may both have something to say
        line = f"[{self._ended_n}/{self._whole_n}, {self.lasted()}] {title}: {how}\n"
        sys.stderr.write(line)
        sys.stderr.flush()


@contextmanager
def working(processes: int, whole_n: int) -> Iterator[Work]:
    """Have processes to do the work; what has not begun when the block fails is dropped."""
    pool = ProcessPoolExecutor(processes, get_context("spawn"))
    try:
        yield Work(pool, whole_n)
    except BaseException:
        pool.shutdown(wait=True, cancel_futures=True)
        raise
    pool.shutdown()
