"""The clock of a simulated run: turns, order, and what happens when the world ends."""

import threading

import pytest

from drainscale_sim.board.clock import TELL_WORLD_S, BoardClock
from drainscale_sim.board.hand_set_world import HandSetWorld


@pytest.fixture
def world() -> HandSetWorld:
    return HandSetWorld()


@pytest.fixture
def clock(world: HandSetWorld) -> BoardClock:
    return BoardClock(world)


def test_world_is_run_on_to_each_turn(clock: BoardClock, world: HandSetWorld) -> None:
    clock.sleep(12.5)
    assert (clock.now_s(), world.now_s()) == (12.5, 12.5)


def test_world_is_never_far_behind(clock: BoardClock, world: HandSetWorld) -> None:
    for _ in range(100):
        clock.sleep(0.001)
        assert clock.now_s() - world.now_s() <= TELL_WORLD_S + 1e-9


def test_clock_starts_at_the_worlds_time() -> None:
    assert BoardClock(HandSetWorld(t_s=77.0)).now_s() == 77.0


def diary(clock: BoardClock) -> list[tuple[float, str]]:
    """Three threads write their names down at their own pace."""
    lines: list[tuple[float, str]] = []

    def write(name: str, pace_s: float) -> None:
        for _ in range(50):
            clock.sleep(pace_s)
            lines.append((clock.now_s(), name))

    workers = [
        clock.start(name, lambda name=name, pace_s=pace_s: write(name, pace_s))  # type: ignore[misc]
        for name, pace_s in (("fast", 0.1), ("slow", 0.3), ("same", 0.1))
    ]
    assert [clock.join(worker, 60.0) for worker in workers] == [True] * len(workers)
    return lines


def test_turns_come_in_the_order_of_their_times(clock: BoardClock) -> None:
    times_s = [t_s for t_s, _ in diary(clock)]
    assert times_s == sorted(times_s)
    assert len(times_s) == 150


def test_two_runs_are_the_same() -> None:
    assert diary(BoardClock(HandSetWorld())) == diary(BoardClock(HandSetWorld()))


def test_only_one_thread_runs_at_a_time(clock: BoardClock) -> None:
    running: list[str] = []
    overlaps: list[int] = []

    def work(name: str) -> None:
        for _ in range(50):
            running.append(name)
            overlaps.append(len(running))
            sum(range(2000))  # long enough to be interrupted if it could be
            running.remove(name)
            clock.sleep(0.001)

    workers = [clock.start("a", lambda: work("a")), clock.start("b", lambda: work("b"))]
    assert [clock.join(worker, 60.0) for worker in workers] == [True] * len(workers)
    assert set(overlaps) == {1}


def test_time_stands_still_while_a_thread_works(clock: BoardClock) -> None:
    seen: list[float] = []

    def work() -> None:
        seen.append(clock.now_s())
        sum(range(200_000))
        seen.append(clock.now_s())

    assert clock.join(clock.start("works", work), 10.0)
    assert seen[0] == seen[1]


def test_action_is_done_at_its_time(clock: BoardClock) -> None:
    done: list[float] = []
    clock.call_at(1.5, lambda: done.append(clock.now_s()))
    clock.sleep(1.4)
    assert not done
    clock.sleep(1.0)
    assert done == [1.5]


def test_repeated_action_can_be_ended(clock: BoardClock) -> None:
    done: list[float] = []
    end = clock.call_every(1.0, lambda: done.append(clock.now_s()))
    clock.sleep(3.5)
    end()
    clock.sleep(3.0)
    assert done == [1.0, 2.0, 3.0]


def test_time_spent_on_pins_is_time(clock: BoardClock) -> None:
    clock.spend(0.25)
    assert clock.now_s() == 0.25
    clock.sleep(0.5)
    assert clock.now_s() == 0.75


def test_thread_of_somebody_else_may_wait_and_holds_nobody_up(clock: BoardClock) -> None:
    woken: list[float] = []

    def wait() -> None:
        clock.sleep(1.0)
        woken.append(clock.now_s())

    stranger = threading.Thread(target=wait)
    stranger.start()
    clock.sleep(0.5)
    while stranger.is_alive():
        clock.sleep(0.5)
    assert woken[0] >= 1.0


def test_error_in_a_thread_leaves_the_clock_running(
    clock: BoardClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[object] = []
    monkeypatch.setattr(threading, "excepthook", lambda args: seen.append(args.exc_type))

    def fail() -> None:
        clock.sleep(0.1)
        raise ValueError

    assert clock.join(clock.start("fails", fail), 5.0)
    clock.sleep(1.0)
    assert seen == [ValueError]


class EndingWorld(HandSetWorld):
    """A world whose process ends."""

    def advance_to(self, t_s: float) -> None:
        if t_s > 5.0:
            raise ConnectionError("the world is gone")
        super().advance_to(t_s)


def test_end_of_the_world_reaches_every_thread() -> None:
    clock = BoardClock(EndingWorld())
    ended: list[str] = []

    def work(name: str, pace_s: float) -> None:
        try:
            while True:
                clock.sleep(pace_s)
        except (ConnectionError, RuntimeError):
            ended.append(name)

    workers = [
        clock.start("a", lambda: work("a", 0.7)),
        clock.start("b", lambda: work("b", 1.1)),
    ]
    work("main", 0.9)
    for worker in workers:
        assert isinstance(worker, threading.Thread)
        worker.join(10.0)
    assert sorted(ended) == ["a", "b", "main"]
