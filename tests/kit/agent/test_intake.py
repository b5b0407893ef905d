"""Samples of several threads come out in time order, stamped as a recording holds them."""

import threading
from functools import partial

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.agent.intake import Intake
from drainscale.drivers.system_clock import SystemClock
from drainscale.quantities.samples import PanReading, Sample, ScaleCount


class SetClock(SystemClock):
    """A clock that shows what it is set to."""

    def __init__(self) -> None:
        super().__init__()
        self.shows_s = 100.0

    def now_s(self) -> float:
        return self.shows_s


def pan(value_C: float, t: float) -> Sample:
    return PanReading(t, value_C)


def count(value: int, t: float) -> Sample:
    return ScaleCount(t, value)


def test_time_counts_from_the_jobs_start_in_microseconds() -> None:
    clock = SetClock()
    intake = Intake(clock, 98.0)
    clock.shows_s = 100.1234567
    intake.put(partial(pan, 20.0))
    assert intake.take() == [PanReading(2.123457, 20.0)]
    assert intake.take() == []


@given(st.lists(st.floats(0.0, 200.0), min_size=1, max_size=30))
def test_times_never_decrease_even_if_a_clock_should(shown_s: list[float]) -> None:
    clock = SetClock()
    intake = Intake(clock, 0.0)
    for now_s in shown_s:
        clock.shows_s = now_s
        intake.put(partial(pan, 20.0))
    times = [sample.t for sample in intake.take()]
    assert times == sorted(times)
    assert len(times) == len(shown_s)
    assert intake.now_t() >= times[-1]


def test_resumed_job_goes_on_after_its_last_sample() -> None:
    clock = SetClock()
    intake = Intake(clock, 95.0)
    intake.resume_after(7.5)
    assert intake.now_t() == 7.5
    clock.shows_s = 103.0
    assert intake.now_t() == 8.0


@pytest.mark.parametrize("threads", [4])
def test_nothing_is_lost_or_out_of_order_with_several_threads(threads: int) -> None:
    intake = Intake(SystemClock(), SystemClock().now_s())
    each, taken = 500, list[Sample]()
    begin = threading.Barrier(threads + 1)

    def work(number: int) -> None:
        begin.wait()
        for i in range(each):
            intake.put(partial(count, number * each + i))

    workers = [threading.Thread(target=work, args=(n,)) for n in range(threads)]
    for worker in workers:
        worker.start()
    begin.wait()
    while any(worker.is_alive() for worker in workers):
        taken += intake.take()
    for worker in workers:
        worker.join()
    taken += intake.take()
    times = [sample.t for sample in taken]
    assert times == sorted(times)
    counts = [sample.count for sample in taken if isinstance(sample, ScaleCount)]
    assert sorted(counts) == list(range(threads * each))
    for n in range(threads):  # each thread's own samples keep their order
        own = [c for c in counts if c // each == n]
        assert own == sorted(own)
