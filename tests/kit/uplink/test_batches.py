import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.kit.uplink.made_up import OPENED, sample_at, samples_of

from drainscale.messages.records import EventTold, JobClosed, JobOpened, Samples
from drainscale.quantities.samples import ScaleCount
from drainscale.uplink.batches import PACK_N, Batches, Entry, RunningJob

RUNNING = RunningJob("j-1", OPENED)
EVENT = EventTold(t=1.0, event="dripped", step="drain")


def packs(entries: list[Entry]) -> list[int]:
    return [len(entry.body.samples) for entry in entries if isinstance(entry.body, Samples)]


def test_nothing_is_due_before_a_second_has_passed() -> None:
    batches = Batches(RUNNING)
    for number in range(10):
        batches.add(sample_at(number))
        assert not batches.is_due
    batches.add(sample_at(10))  # 1.0 s after the first
    assert batches.is_due
    assert packs(batches.take()) == [11]


def test_a_hundred_samples_are_due_at_once() -> None:
    batches = Batches(RUNNING)
    for number in range(PACK_N):
        assert not batches.is_due
        batches.add(ScaleCount(number / 1000, number))
    assert batches.is_due
    assert packs(batches.take()) == [100]
    assert batches.is_empty
    assert not batches.is_due


def test_order_of_samples_and_events_is_kept() -> None:
    batches = Batches(RUNNING)
    batches.add(sample_at(0))
    batches.put(EVENT)
    batches.add(sample_at(1))
    bodies = [entry.body for entry in batches.take()]
    assert [type(body).__name__ for body in bodies] == ["Samples", "EventTold", "Samples"]


def test_an_event_waits_for_the_second_but_a_border_of_the_job_does_not() -> None:
    batches = Batches(RUNNING)
    batches.put(EVENT)
    assert not batches.is_due
    batches.put(JobClosed(t=2.0, outcome="done"))
    assert batches.is_due


def test_job_goes_from_its_opening_to_its_closing() -> None:
    batches = Batches()
    batches.put(EVENT)
    batches.begin_job(RUNNING)
    batches.add(sample_at(0))
    batches.put(JobClosed(t=2.0, outcome="done"))
    batches.put(EVENT)
    assert [entry.job for entry in batches.take()] == [None, "j-1", "j-1", "j-1", None]
    assert batches.running is None


def test_a_pack_can_be_read_without_the_job_s_first_message() -> None:
    batches = Batches(RUNNING)
    batches.add(sample_at(0))
    body = batches.take()[0].body
    assert isinstance(body, Samples)
    assert (body.base_time_s, body.is_clock_set) == (OPENED.base_time_s, True)


def test_what_belongs_to_no_job_is_a_bug() -> None:
    with pytest.raises(ValueError, match="outside of a job"):
        Batches().add(sample_at(0))
    with pytest.raises(ValueError, match="no job"):
        Batches().put(JobClosed(t=0.0, outcome="done"))
    with pytest.raises(ValueError, match="begin_job"):
        Batches().put(OPENED)
    with pytest.raises(ValueError, match="j-1 is still running"):
        Batches(RUNNING).begin_job(RunningJob("j-2", OPENED))


@given(st.lists(st.sampled_from(["sample", "event", "take"]), max_size=300))
def test_every_sample_comes_out_once_and_in_order(calls: list[str]) -> None:
    batches = Batches(RUNNING)
    out: list[Entry] = []
    number = 0
    for call in [*calls, "take"]:
        if call == "sample":
            batches.add(sample_at(number))
            number += 1
        elif call == "event":
            batches.put(EVENT)
        else:
            out += batches.take()
    assert [s for e in out if isinstance(e.body, Samples) for s in e.body.samples] == samples_of(
        0, number
    )
    assert sum(entry.body is EVENT for entry in out) == calls.count("event")
    assert all(1 <= n <= PACK_N for n in packs(out))
    assert not any(isinstance(entry.body, JobOpened) for entry in out)
