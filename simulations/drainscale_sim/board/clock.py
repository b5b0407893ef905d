"""The clock of a simulated run: it moves only while everybody waits.

The threads that live by it take turns, one at a time, in the order of their times and, at equal
times, of their asking. When the one whose turn it is waits, the world is run on to the next turn.
So a run is the same each time, however busy the machine is, and as fast as the machine can.
"""

import heapq
import threading
import time
from collections.abc import Callable
from itertools import count

from drainscale.ports import Stop, Worker
from drainscale_sim.bench_world import BenchWorld

Action = Callable[[], None]
_FLAG_STEP_S = 0.01
_OUTSIDER_STEP_S = 0.0005


class _Turn:
    """A thread's place in the queue."""

    def __init__(self) -> None:
        self.has_come = False


class _ClockThread(threading.Thread):
    """A thread that lives by the clock; it counts as ended when its last turn is over."""

    def __init__(self, name: str, run: Callable[["_ClockThread"], None]) -> None:
        super().__init__(name=name, daemon=True)
        self._run_on_turn = run
        self.has_finished = False

    def run(self) -> None:
        """Take the turns."""
        self._run_on_turn(self)

    def is_alive(self) -> bool:
        """Tell whether it still has something to do."""
        return super().is_alive() and not self.has_finished


class BoardClock:
    """A ``drainscale.ports.Clock`` over a ``BenchWorld``.

    The thread that makes it has the first turn. Threads that others start (a network client's)
    may ask for the time and wait, but nobody waits for them.
    """

    def __init__(
        self, world: BenchWorld, *, wall_start_s: float = 1_800_000_000.0, is_wall_set: bool = True
    ) -> None:
        self._world = world
        self._now_s = world.now_s()
        self._wall_start_s = wall_start_s
        self._is_wall_set = is_wall_set
        self._changed = threading.Condition()
        self._queue: list[tuple[float, int, _Turn | Action]] = []
        self._order = count()
        self._members = {threading.get_ident()}
        self._broken: BaseException | None = None

    def now_s(self) -> float:
        """Return the world's time, s."""
        return self._now_s

    def wall_s(self) -> float:
        """Return an invented wall time that goes with the world's time."""
        return self._wall_start_s + self._now_s

    def is_wall_set(self) -> bool:
        """Tell whether the invented wall time counts as set."""
        return self._is_wall_set

    def sleep(self, duration_s: float) -> None:
        """Let the others have their turns until so much later."""
        if duration_s <= 0.0:
            return
        if threading.get_ident() not in self._members:
            self._sleep_as_outsider(duration_s)
            return
        with self._changed:
            self._wait_for(self._queue_turn(self._now_s + duration_s), hand_over=True)

    def wait(self, stop: Stop, timeout_s: float) -> bool:
        """Wait until the flag is set, at most so long; True if it is set."""
        end_s = self._now_s + timeout_s
        while not stop.is_set() and self._now_s < end_s:
            self.sleep(min(_FLAG_STEP_S, end_s - self._now_s))
        return stop.is_set()

    def start(self, name: str, work: Callable[[], None]) -> Worker:
        """Run ``work`` in a thread that takes turns with the others."""

        def run(thread: _ClockThread) -> None:
            with self._changed:
                self._members.add(threading.get_ident())
                self._wait_for(turn, hand_over=False)
            try:
                work()
            finally:
                with self._changed:
                    self._members.discard(threading.get_ident())
                    thread.has_finished = True
                    self._hand_over()

        with self._changed:
            turn = self._queue_turn(self._now_s)
        thread = _ClockThread(name, run)
        thread.start()
        return thread

    def join(self, worker: Worker, timeout_s: float) -> bool:
        """Wait for the worker's end; True if it has ended."""
        end_s = self._now_s + timeout_s
        while worker.is_alive() and self._now_s < end_s:
            self.sleep(min(_FLAG_STEP_S, end_s - self._now_s))
        if worker.is_alive():
            return False
        if isinstance(worker, threading.Thread):
            worker.join()
        return True

    def call_at(self, t_s: float, action: Action) -> None:
        """Do something at a time, in whichever thread moves the clock then. It must not wait."""
        with self._changed:
            heapq.heappush(self._queue, (t_s, next(self._order), action))

    def call_every(self, period_s: float, action: Action) -> Action:
        """Do something again and again, first one period from now.

        Returns:
            What ends it.
        """
        is_over = False

        def again() -> None:
            if not is_over:
                action()
                self.call_at(self._now_s + period_s, again)

        def end() -> None:
            nonlocal is_over
            is_over = True

        self.call_at(self._now_s + period_s, again)
        return end

    def spend(self, duration_s: float) -> None:
        """Let the present turn take some of the clock's time, as moving a pin does."""
        if threading.get_ident() in self._members:
            self._now_s += duration_s

    def _queue_turn(self, t_s: float) -> _Turn:
        turn = _Turn()
        heapq.heappush(self._queue, (t_s, next(self._order), turn))
        return turn

    def _wait_for(self, turn: _Turn, *, hand_over: bool) -> None:
        if hand_over:
            self._hand_over()
        while not turn.has_come:
            if self._broken is not None:
                raise RuntimeError("the simulated world has stopped") from self._broken
            self._changed.wait()

    def _hand_over(self) -> None:
        """Run the world on to the next turn and give it; actions on the way are done here."""
        if self._broken is not None:
            return  # whoever waits finds out by himself
        try:
            # without a turn in it nobody lives any more, and the world's own doings wait
            while any(isinstance(what, _Turn) for _, _, what in self._queue):
                t_s, _, what = heapq.heappop(self._queue)
                if t_s > self._now_s:
                    self._world.advance_to(t_s)
                    self._now_s = t_s
                if isinstance(what, _Turn):
                    what.has_come = True
                    self._changed.notify_all()
                    return
                what()
        except BaseException as error:
            self._broken = error
            self._changed.notify_all()
            raise

    def _sleep_as_outsider(self, duration_s: float) -> None:
        end_s = self._now_s + duration_s
        while self._now_s < end_s and self._broken is None:
            time.sleep(_OUTSIDER_STEP_S)


class BoardTime:
    """What the package ``hx711`` finds in place of the module ``time``."""

    def __init__(self, clock: BoardClock) -> None:
        self._clock = clock

    def sleep(self, duration_s: float) -> None:
        """Wait by the board's clock."""
        self._clock.sleep(duration_s)

    def perf_counter(self) -> float:
        """Return the board's time, s."""
        return self._clock.now_s()
