import sqlite3
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.kit.uplink.made_up import BAY_3, OPENED, sample_at, samples_of

from drainscale.messages.records import EventTold, JobClosed, ResultFormed, Samples
from drainscale.quantities.samples import ScaleCount
from drainscale.uplink import writer as writer_module
from drainscale.uplink.batches import Gap, RunningJob
from drainscale.uplink.spool import Spool
from drainscale.uplink.writer import SpoolWriter

EVENT = EventTold(t=1.0, event="dripped", step="drain")
LONG_S = 30.0  # a bound for waits that end much earlier


@pytest.fixture
def spool(tmp_path: Path) -> Iterator[Spool]:
    spool = Spool(tmp_path / "spool.sqlite", BAY_3, boot="b1")
    yield spool
    spool.close()


def limit_pages(spool: Spool, pages_n: int) -> None:
    """Make the disk full, as far as SQLite can tell; a large number makes room again."""
    spool._db.execute(f"PRAGMA max_page_count = {pages_n}")


def test_what_was_flushed_is_on_the_disk(spool: Spool) -> None:
    with SpoolWriter(spool, pause_s=LONG_S) as writer:
        writer.begin_job("j-1", OPENED)
        for sample in samples_of(0, 5):
            writer.add(sample)
        writer.put(EVENT)
        assert writer.flush(LONG_S)
        assert [type(body).__name__ for body in spool.history("j-1")] == [
            "JobOpened", "Samples", "EventTold",
        ]  # fmt: skip


def test_what_was_given_during_a_commit_is_not_taken_for_stored(spool: Spool) -> None:
    more = [sample_at(0)]

    def give_more() -> None:
        if more:
            writer.add(more.pop())

    with SpoolWriter(spool, pause_s=LONG_S, on_stored=give_more) as writer:
        writer.begin_job("j-1", OPENED)
        assert writer.flush(LONG_S)
        assert not more
        assert writer.flush(LONG_S)
        assert list(spool.samples("j-1")) == samples_of(0, 1)


def test_a_hundred_samples_are_stored_without_asking(spool: Spool) -> None:
    stored = threading.Event()
    running = RunningJob("j-1", OPENED)
    with SpoolWriter(spool, pause_s=LONG_S, on_stored=stored.set) as writer:
        writer.begin_job("j-1", OPENED)
        assert writer.flush(LONG_S)
        stored.clear()
        for number in range(100):
            writer.add(ScaleCount(number / 1000, number))
        assert stored.wait(LONG_S)
        assert writer.running == running
    assert len(list(spool.samples("j-1"))) == 100


def test_a_second_of_samples_is_stored_without_asking(spool: Spool) -> None:
    stored = threading.Event()
    with SpoolWriter(spool, pause_s=LONG_S, on_stored=stored.set) as writer:
        writer.begin_job("j-1", OPENED)
        assert writer.flush(LONG_S)
        stored.clear()
        for sample in samples_of(0, 11):
            writer.add(sample)
        assert stored.wait(LONG_S)
    assert list(spool.samples("j-1")) == samples_of(0, 11)


def test_a_lone_sample_is_stored_after_a_pause(spool: Spool) -> None:
    stored = threading.Event()
    with SpoolWriter(spool, pause_s=0.01, on_stored=stored.set) as writer:
        writer.begin_job("j-1", OPENED)
        assert writer.flush(LONG_S)
        stored.clear()
        writer.add(sample_at(0))
        assert stored.wait(LONG_S)
    assert list(spool.samples("j-1")) == samples_of(0, 1)


def test_closing_stores_what_is_left(spool: Spool) -> None:
    with SpoolWriter(spool, pause_s=LONG_S) as writer:
        writer.begin_job("j-1", OPENED)
        writer.add(sample_at(0))
        writer.close_job(JobClosed(t=1.0, outcome="done"))
    assert spool.open_job() is None
    assert spool.standings()[0].last == 3
    assert not writer.is_alive


def test_a_resumed_job_goes_on_without_a_second_opening(spool: Spool) -> None:
    with SpoolWriter(spool, pause_s=LONG_S) as writer:
        writer.begin_job("j-1", OPENED)
        writer.add(sample_at(0))
    with SpoolWriter(spool, running=spool.open_job(), pause_s=LONG_S) as writer:
        writer.add(sample_at(1))
    assert list(spool.samples("j-1")) == samples_of(0, 2)
    assert sum(body == OPENED for body in spool.history("j-1")) == 1


@pytest.mark.parametrize(
    "sample", [ScaleCount(0.1234567, 1), ScaleCount(0.0, 2**23), ScaleCount(float("nan"), 1)]
)
def test_a_sample_that_cannot_be_sent_is_told_to_who_gave_it(
    spool: Spool, sample: ScaleCount
) -> None:
    with SpoolWriter(spool, pause_s=LONG_S) as writer:
        writer.begin_job("j-1", OPENED)
        with pytest.raises(ValueError, match="."):  # noqa: RUF043 - any reason will do
            writer.add(sample)
        writer.add(sample_at(0))
    assert list(spool.samples("j-1")) == samples_of(0, 1)
    assert not writer.counters


def test_a_result_that_is_not_finite_is_told_to_who_gave_it(spool: Spool) -> None:
    with (
        SpoolWriter(spool, pause_s=LONG_S) as writer,
        pytest.raises(ValueError, match="not a finite"),
    ):
        writer.put(ResultFormed(t=1.0, is_final=True, result={"x": float("nan")}))


def test_a_full_disk_is_told_and_made_up_for_when_there_is_room(spool: Spool) -> None:
    with SpoolWriter(spool, pause_s=0.01) as writer:
        writer.begin_job("j-1", OPENED)
        assert writer.flush(LONG_S)
        limit_pages(spool, 1)
        for sample in samples_of(0, 3000):
            writer.add(sample)
        assert not writer.flush(0.2)
        assert writer.fault is not None
        assert "full" in writer.fault
        limit_pages(spool, 10**6)
        assert writer.flush(LONG_S)
        assert writer.fault is None
    assert list(spool.samples("j-1")) == samples_of(0, 3000)
    assert spool.gaps("j-1") == []
    assert writer.counters["refused-commits"] >= 1


def test_what_no_memory_can_hold_is_a_gap(spool: Spool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(writer_module, "HELD_N", 3)
    with SpoolWriter(spool, pause_s=0.01) as writer:
        writer.begin_job("j-1", OPENED)
        assert writer.flush(LONG_S)
        limit_pages(spool, 1)
        for sample in samples_of(0, 1000):  # ten packs of a hundred
            writer.add(sample)
        assert not writer.flush(0.2)
        limit_pages(spool, 10**6)
        assert writer.flush(LONG_S)
    kept = list(spool.samples("j-1"))
    lost_n = 1000 - len(kept)
    assert kept == samples_of(lost_n, len(kept))  # the oldest went, the rest is whole
    assert lost_n == writer.counters["lost-samples"] >= 600
    assert spool.gaps("j-1") == [Gap(0.0, round((lost_n - 1) / 10, 6))]


def test_a_listener_that_fails_ends_nothing(spool: Spool) -> None:
    def fail() -> None:
        raise RuntimeError("a bug of the listener")

    with SpoolWriter(spool, pause_s=LONG_S, on_stored=fail) as writer:
        writer.begin_job("j-1", OPENED)
        assert writer.flush(LONG_S)
        writer.add(sample_at(0))
        assert writer.flush(LONG_S)
        assert writer.is_alive
    assert writer.counters["listener-failures"] == 2


def test_a_bug_gives_up_its_messages_and_nothing_else(
    spool: Spool, caplog: pytest.LogCaptureFixture
) -> None:
    with SpoolWriter(spool, pause_s=LONG_S) as writer:
        writer.begin_job("j-1", OPENED)
        assert writer.flush(LONG_S)
        with writer._wake:  # a job that the spool does not know, which begin_job would not let in
            writer._batches._running = RunningJob("j-9", OPENED)
        writer.add(sample_at(0))
        assert writer.flush(LONG_S)
        with writer._wake:
            writer._batches._running = RunningJob("j-1", OPENED)
        writer.add(sample_at(1))
        assert writer.flush(LONG_S)
    assert writer.counters["given-up"] == 1
    assert "j-9 was never opened" in caplog.text
    assert list(spool.samples("j-1")) == [sample_at(1)]
    assert spool.gaps("j-1") == [Gap(0.0, 0.0)]


def test_a_file_that_breaks_while_open_is_begun_anew(spool: Spool, tmp_path: Path) -> None:
    with SpoolWriter(spool, pause_s=0.01) as writer:
        writer.begin_job("j-1", OPENED)
        for sample in samples_of(0, 2000):
            writer.add(sample)
        assert writer.flush(LONG_S)
        break_file(spool, tmp_path / "spool.sqlite")
        for sample in samples_of(2000, 50):
            writer.add(sample)
        assert writer.flush(LONG_S)
        assert writer.fault is None
    assert writer.counters["renewed"] == 1
    assert spool.boot != "b1"
    assert spool.open_job() == RunningJob("j-1", OPENED)
    assert list(spool.samples("j-1")) == samples_of(2000, 50)
    assert spool.gaps("j-1") == [Gap(0.0, 199.9)]
    assert (tmp_path / "spool.sqlite.damaged-1").exists()


def break_file(spool: Spool, path: Path) -> None:
    """Overwrite the file behind SQLite's back, and let it forget what it has in memory."""
    with spool._lock:
        spool._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        path.write_bytes(b"\xa5" * path.stat().st_size)
        spool._db.execute("PRAGMA shrink_memory")
    with pytest.raises(sqlite3.DatabaseError):
        list(spool.samples("j-1"))


def test_many_threads_may_give_at_once(spool: Spool) -> None:
    def give() -> None:
        for _ in range(200):
            writer.put(EVENT)

    with SpoolWriter(spool) as writer:
        threads = [threading.Thread(target=give) for _ in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(LONG_S)
    assert spool.standings()[0].last == 800
    assert not any(isinstance(body, Samples) for body in spool.history("j-1"))
