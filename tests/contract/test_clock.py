"""What every clock holds to: the board's own and the simulated one."""

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from drainscale.drivers.paths import BoardPaths
from drainscale.drivers.system_clock import SystemClock
from drainscale.ports import Clock
from drainscale_sim.board.clock import BoardClock
from drainscale_sim.board.hand_set_world import HandSetWorld


@pytest.fixture(params=["system", "simulated"])
def clock(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Clock]:
    if request.param == "simulated":
        yield BoardClock(HandSetWorld())
    else:
        (tmp_path / "set").touch()
        yield SystemClock(BoardPaths(time_is_set=tmp_path / "set"))


def test_sleep_takes_its_time_and_no_less(clock: Clock) -> None:
    begin_s = clock.now_s()
    clock.sleep(0.02)
    assert 0.02 <= clock.now_s() - begin_s + 1e-9 < 2.0


@pytest.mark.parametrize("duration_s", [0.0, -1.0])
def test_sleep_of_nothing_or_less_returns_at_once(clock: Clock, duration_s: float) -> None:
    begin_s = clock.now_s()
    clock.sleep(duration_s)
    assert clock.now_s() - begin_s < 0.5


def test_wait_ends_at_the_flag(clock: Clock) -> None:
    flag = threading.Event()

    def set_it() -> None:
        clock.sleep(0.02)
        flag.set()

    worker = clock.start("setter", set_it)
    begin_s = clock.now_s()
    assert clock.wait(flag, 20.0)
    assert clock.now_s() - begin_s < 10.0
    assert clock.join(worker, 5.0)


def test_wait_ends_in_time_without_the_flag(clock: Clock) -> None:
    begin_s = clock.now_s()
    assert not clock.wait(threading.Event(), 0.03)
    assert 0.03 <= clock.now_s() - begin_s + 1e-9 < 2.0


def test_wait_takes_any_flag(clock: Clock) -> None:
    class Flag:
        asked = 0

        def is_set(self) -> bool:
            self.asked += 1
            return self.asked > 1

    begin_s = clock.now_s()
    assert clock.wait(Flag(), 20.0)
    assert clock.now_s() - begin_s < 10.0


def test_started_work_runs_and_can_be_joined(clock: Clock) -> None:
    done: list[float] = []

    def work() -> None:
        clock.sleep(0.01)
        done.append(clock.now_s())

    worker = clock.start("worker", work)
    assert clock.join(worker, 5.0)
    assert not worker.is_alive()
    assert len(done) == 1


def test_join_of_what_goes_on_says_so(clock: Clock) -> None:
    stop = threading.Event()
    worker = clock.start("goes on", lambda: void(clock.wait(stop, 20.0)))
    assert not clock.join(worker, 0.03)
    assert worker.is_alive()
    stop.set()
    assert clock.join(worker, 5.0)


def void(_result: object) -> None:
    pass


def test_wall_time_goes_with_the_clock(clock: Clock) -> None:
    wall_s, begin_s = clock.wall_s(), clock.now_s()
    clock.sleep(0.02)
    assert clock.wall_s() - wall_s == pytest.approx(clock.now_s() - begin_s, abs=0.5)
    assert clock.is_wall_set()


def test_wall_time_that_was_not_set_is_known(tmp_path: Path) -> None:
    assert not SystemClock(BoardPaths(time_is_set=tmp_path / "set")).is_wall_set()
    assert not BoardClock(HandSetWorld(), is_wall_set=False).is_wall_set()
