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
# The world is told of the time in steps of this size; whoever asks it something names the time.
TELL_WORLD_S = 0.005


class _Turn:
    """A thread's place in the queue; it waits at a gate of its own, so that only it is woken."""

    def __init__(self) -> None:
        self.has_come = False
        self._gate = threading.Lock()
        self._gate.acquire()

    def give(self) -> None:
        """Let the thread through."""
        if not self.has_come:
            self.has_come = True
            self._gate.release()

    def await_it(self) -> None:
        """Wait at the gate."""
        self._gate.acquire()


class _Ended:
    """A flag that is set when a worker has ended."""

    def __init__(self, worker: Worker) -> None:
        self._worker = worker

    def is_set(self) -> bool:
        return not self._worker.is_alive()


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
        self._now_s = self._world_at_s = world.now_s()
        self._wall_start_s = wall_start_s
        self._is_wall_set = is_wall_set
        self._lock = threading.RLock()
        self._flagged: list[tuple[_Turn, Stop]] = []
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
        self._wait_for_turn(duration_s, None)

    def wait(self, stop: Stop, timeout_s: float) -> bool:
        """Wait until the flag is set, at most so long; True if it is set.

        The flag is looked at whenever a turn ends.
        """
        if threading.get_ident() in self._members:
            if timeout_s > 0.0 and not stop.is_set():
                self._wait_for_turn(timeout_s, stop)
            return stop.is_set()
        end_s = self._now_s + timeout_s
        while not stop.is_set() and self._now_s < end_s:
            self.sleep(min(_FLAG_STEP_S, end_s - self._now_s))
        return stop.is_set()

    def start(self, name: str, work: Callable[[], None]) -> Worker:
        """Run ``work`` in a thread that takes turns with the others."""

        def run(thread: _ClockThread) -> None:
            self._members.add(threading.get_ident())
            turn.await_it()
            try:
                work()
            finally:
                with self._lock:
                    self._members.discard(threading.get_ident())
                    thread.has_finished = True
                    self._hand_over()

        with self._lock:
            turn = self._queue_turn(self._now_s)
        thread = _ClockThread(name, run)
        thread.start()
        return thread

    def join(self, worker: Worker, timeout_s: float) -> bool:
        """Wait for the worker's end; True if it has ended."""
        if not self.wait(_Ended(worker), timeout_s):
            return False
        if isinstance(worker, threading.Thread):
            worker.join()
        return True

    def call_at(self, t_s: float, action: Action) -> None:
        """Do something at a time, in whichever thread moves the clock then. It must not wait."""
        with self._lock:
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

    def _wait_for_turn(self, duration_s: float, stop: Stop | None) -> None:
        with self._lock:
            turn = self._queue_turn(self._now_s + duration_s)
            if stop is not None:
                self._flagged.append((turn, stop))
            self._hand_over()
        turn.await_it()
        if self._broken is not None:
            raise RuntimeError("the simulated world has stopped") from self._broken

    def _hand_over(self) -> None:
        """Run the world on to the next turn and give it; actions on the way are done here."""
        try:
            # without a turn in it nobody lives any more, and the world's own doings wait
            while any(isinstance(what, _Turn) and not what.has_come for _, _, what in self._queue):
                if self._broken is not None or self._give_flagged():
                    break
                t_s, _, what = self._queue[0]
                is_over = isinstance(what, _Turn) and what.has_come  # its flag was set before
                if t_s > self._now_s and not is_over:
                    self._tell_world(t_s)
                    self._now_s = t_s
                heapq.heappop(self._queue)
                if is_over:
                    continue
                if isinstance(what, _Turn):
                    what.give()
                    return
                what()
        except BaseException as error:
            self._broken = error
            raise
        finally:
            if self._broken is not None:
                self._wake_all()

    def _tell_world(self, t_s: float) -> None:
        if t_s - self._world_at_s >= TELL_WORLD_S:
            self._world.advance_to(t_s)
            self._world_at_s = t_s

    def _give_flagged(self) -> bool:
        self._flagged = [(turn, stop) for turn, stop in self._flagged if not turn.has_come]
        for turn, stop in self._flagged:
            if stop.is_set():
                turn.give()
                return True
        return False

    def _wake_all(self) -> None:
        """Let everybody find out that the world has stopped."""
        for _, _, what in self._queue:
            if isinstance(what, _Turn):
                what.give()

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
