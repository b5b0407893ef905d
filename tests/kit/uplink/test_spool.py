import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from tests.kit.uplink.made_up import BAY_3, OPENED, samples_of

from drainscale.errors import SpoolError
from drainscale.messages.codec import decode
from drainscale.messages.records import (
    Envelope,
    EventTold,
    FaultTold,
    JobClosed,
    Samples,
)
from drainscale.quantities.samples import Sample
from drainscale.uplink.batches import Entry, Gap, RunningJob, pack_of
from drainscale.uplink.session import Standing
from drainscale.uplink.spool import Spool
from drainscale.uplink.spool_queries import note_begun

RUNNING = RunningJob("j-1", OPENED)
OPENING = Entry("j-1", OPENED)
CLOSING = Entry("j-1", JobClosed(t=9.0, outcome="done"))


def pack(first: int, n: int) -> Entry:
    return Entry("j-1", pack_of(RUNNING, samples_of(first, n)))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "spool.sqlite"


@pytest.fixture
def spool(path: Path) -> Iterator[Spool]:
    spool = Spool(path, BAY_3, boot="b1")
    yield spool
    spool.close()


def reopened(spool: Spool, path: Path, boot: str = "b2") -> Spool:
    spool.close()
    return Spool(path, BAY_3, boot=boot)


def test_numbers_go_up_from_one_without_a_hole(spool: Spool) -> None:
    assert spool.append([OPENING, pack(0, 5)]) == 2
    assert spool.append([pack(5, 5)]) == 3
    assert [one.seq for one in spool.messages("b1", 1, 9)] == [1, 2, 3]
    assert spool.standings() == (Standing("b1", 0, 3),)


def test_stored_messages_say_who_and_which_they_are(spool: Spool) -> None:
    spool.append([OPENING, pack(0, 5), Entry(None, FaultTold(code="x", text="y"))])
    for stored in spool.messages("b1", 1, 3):
        message = decode(BAY_3.topic(stored.leaf), stored.payload)
        assert isinstance(message, Envelope)
        assert (message.boot, message.seq) == ("b1", stored.seq)
    leaves = [stored.leaf for stored in spool.messages("b1", 1, 3)]
    assert leaves == ["job-opened", "samples", "fault"]


def test_what_fails_uses_no_number_and_stores_nothing(spool: Spool) -> None:
    spool.append([OPENING])
    stray = Entry("j-9", EventTold(t=0.0, event="placed", step="prepare"))
    with pytest.raises(ValueError, match="j-9 was never opened"):
        spool.append([pack(0, 5), stray])
    assert spool.append([pack(0, 5)]) == 2


def test_a_new_start_takes_up_the_open_job_with_its_samples(spool: Spool, path: Path) -> None:
    spool.append([OPENING, pack(0, 50), Entry("j-1", EventTold(t=4.0, event="placed", step="x"))])
    spool.append([pack(50, 50)])
    again = reopened(spool, path)
    found = again.open_job()
    assert found == RUNNING
    assert list(again.samples("j-1")) == samples_of(0, 100)
    again.close()


def test_history_holds_all_that_was_said_in_its_order(spool: Spool) -> None:
    spool.append([OPENING, pack(0, 5), CLOSING])
    assert list(spool.history("j-1")) == [OPENED, pack(0, 5).body, CLOSING.body]


def test_no_job_is_open_after_its_closing(spool: Spool) -> None:
    assert spool.open_job() is None
    spool.append([OPENING, CLOSING])
    assert spool.open_job() is None


def test_two_jobs_at_once_or_the_same_twice_are_a_bug(spool: Spool) -> None:
    spool.append([OPENING])
    with pytest.raises(ValueError, match="j-1 is open"):
        spool.append([Entry("j-2", OPENED)])
    spool.append([CLOSING])
    with pytest.raises(ValueError, match="in the spool already"):
        spool.append([OPENING])


def test_gap_is_the_time_between_two_starts(spool: Spool, path: Path) -> None:
    spool.append([OPENING, pack(0, 50)])
    second = reopened(spool, path)
    second.append([pack(80, 20)])
    third = reopened(second, path, boot="b3")
    third.append([pack(200, 10)])
    assert third.gaps("j-1") == [Gap(4.9, 8.0), Gap(9.9, 20.0)]
    third.close()


def test_no_gap_without_a_restart(spool: Spool) -> None:
    spool.append([OPENING, pack(0, 50)])
    spool.append([pack(80, 20)])  # a silent sensor is no gap of the kit
    assert spool.gaps("j-1") == []


def test_what_the_disk_refused_is_a_gap_too(spool: Spool, path: Path) -> None:
    spool.append([OPENING, pack(0, 10)])
    spool.append([pack(50, 10)], [Gap(1.0, 4.9)])
    again = reopened(spool, path)
    assert again.gaps("j-1") == [Gap(1.0, 4.9)]
    again.close()


def test_an_open_job_is_kept_even_if_all_is_acknowledged(spool: Spool) -> None:
    spool.append([OPENING, pack(0, 50)])
    spool.acknowledge("b1", 2)
    assert spool.forget() == 0
    assert list(spool.samples("j-1")) == samples_of(0, 50)


def test_a_closed_job_is_kept_until_it_is_acknowledged(spool: Spool) -> None:
    spool.append([OPENING, pack(0, 50), CLOSING])
    spool.acknowledge("b1", 2)
    assert spool.forget() == 2
    assert [one.seq for one in spool.messages("b1", 1, 9)] == [3]
    spool.acknowledge("b1", 3)
    assert spool.forget() == 1
    assert spool.messages("b1", 1, 9) == []


def test_what_belongs_to_no_job_goes_when_acknowledged(spool: Spool) -> None:
    spool.append([Entry(None, FaultTold(code="x", text="y"))])
    assert spool.forget() == 0
    spool.acknowledge("b1", 1)
    assert spool.forget() == 1


def test_forgetting_takes_some_at_a_time(spool: Spool) -> None:
    spool.append([OPENING, *[pack(n, 1) for n in range(10)], CLOSING])
    spool.acknowledge("b1", 12)
    assert [spool.forget(5), spool.forget(5), spool.forget(5)] == [5, 5, 2]


def test_numbers_go_on_after_all_was_forgotten(spool: Spool) -> None:
    spool.append([OPENING, CLOSING])
    spool.acknowledge("b1", 2)
    spool.forget()
    assert spool.append([Entry("j-1", OPENED)]) == 3  # the job is gone, so its name is free
    assert spool.standings() == (Standing("b1", 2, 3),)


def whole_job(spool: Spool, job: str, first: int) -> None:
    spool.append(
        [
            Entry(job, OPENED),
            Entry(job, pack_of(RunningJob(job, OPENED), samples_of(first, 5))),
            Entry(job, JobClosed(t=9.0, outcome="done")),
        ]
    )


def test_a_bench_without_a_server_keeps_its_last_jobs_only(spool: Spool, path: Path) -> None:
    for number in range(4):
        whole_job(spool, f"j-{number}", 10 * number)
    spool.append([Entry("j-open", OPENED)])
    assert spool.trim(keep_n=2) == 6
    assert list(spool.samples("j-1")) == []
    assert list(spool.samples("j-2")) == samples_of(20, 5)
    assert spool.open_job() == RunningJob("j-open", OPENED)
    assert spool.standings() == (Standing("b1", 6, 13),)  # a server that comes is not kept waiting
    again = reopened(spool, path)
    assert again.standings()[0] == Standing("b1", 6, 13)
    assert again.trim(keep_n=2) == 0
    again.close()


def test_trimming_gives_up_whole_starts_too(spool: Spool, path: Path) -> None:
    whole_job(spool, "j-1", 0)
    again = reopened(spool, path)
    assert again.trim(keep_n=0) == 3
    assert again.standings() == (Standing("b2", 0, 0),)
    again.close()


def test_an_old_start_is_sent_first_and_forgotten_when_empty(spool: Spool, path: Path) -> None:
    spool.append([OPENING, CLOSING])
    again = reopened(spool, path)
    assert again.standings() == (Standing("b1", 0, 2), Standing("b2", 0, 0))
    again.acknowledge("b1", 2)
    again.forget()
    assert again.standings() == (Standing("b2", 0, 0),)
    again.close()


def test_acknowledgement_outlives_a_restart_and_never_goes_back(spool: Spool, path: Path) -> None:
    spool.append([OPENING, pack(0, 5), pack(5, 5)])
    spool.acknowledge("b1", 2)
    spool.acknowledge("b1", 1)
    again = reopened(spool, path)
    assert again.standings()[0] == Standing("b1", 2, 3)
    again.close()


def test_a_number_that_was_never_given_out_cannot_be_acknowledged(spool: Spool) -> None:
    spool.append([OPENING])
    with pytest.raises(ValueError, match="2 of 1"):
        spool.acknowledge("b1", 2)
    spool.acknowledge("nobody", 7)  # a boot that is gone is no error
    assert spool.standings() == (Standing("b1", 0, 1),)


def test_each_start_has_another_boot(tmp_path: Path) -> None:
    boots = set()
    for _ in range(3):
        spool = Spool(tmp_path / "s", BAY_3)
        boots.add(spool.boot)
        spool.close()
    assert len(boots) == 3
    assert all(len(boot) == 16 for boot in boots)


def test_the_same_boot_twice_is_refused(spool: Spool, path: Path) -> None:
    with pytest.raises(SpoolError, match="UNIQUE"):
        reopened(spool, path, boot="b1")


def rot(path: Path, seq: int) -> None:
    """Change one digit of a message, so that it still looks well."""
    with closing(sqlite3.connect(path)) as db:
        db.execute(
            "UPDATE messages SET payload = CAST(replace(CAST(payload AS TEXT), '1001', '1009')"
            " AS BLOB) WHERE seq = ?",
            (seq,),
        )
        db.commit()


def test_message_gone_bad_is_told_and_the_rest_is_read(spool: Spool, path: Path) -> None:
    spool.append([OPENING, pack(0, 5), pack(5, 5)])
    spool.close()
    rot(path, 2)
    again = Spool(path, BAY_3)
    assert list(again.samples("j-1")) == samples_of(5, 5)
    assert again.faults == ("message 2 of job j-1 is unreadable in the spool",)
    assert again.gaps("j-1") == [Gap(0.0, 0.4)]
    again.close()


def test_message_gone_bad_leaves_no_hole_for_the_server(spool: Spool, path: Path) -> None:
    spool.append([OPENING, pack(0, 5), pack(5, 5)])
    spool.close()
    rot(path, 2)
    again = Spool(path, BAY_3)
    stored = again.messages("b1", 1, 3)
    assert [one.leaf for one in stored] == ["job-opened", "fault", "samples"]
    message = decode(BAY_3.topic("fault"), stored[1].payload)
    assert isinstance(message, Envelope)
    assert (message.boot, message.seq) == ("b1", 2)
    assert "samples 2 went bad" in str(message.body)
    again.close()


def test_samples_come_back_as_the_core_was_fed_them(spool: Spool) -> None:
    fed: list[Sample] = samples_of(0, 700)
    spool.append([OPENING, *[pack(n, 100) for n in range(0, 700, 100)]])
    bodies = [b for b in spool.history("j-1") if isinstance(b, Samples)]
    assert [s for body in bodies for s in body.samples] == fed


def test_jobs_that_were_begun_are_known_after_a_restart_and_when_they_are_forgotten(
    tmp_path: Path,
) -> None:
    first = Spool(tmp_path / "spool.sqlite", BAY_3)
    assert first.begun() == frozenset()
    first.note_begun("j-1")
    first.note_begun("j-1")
    first.note_begun("j-2")
    first.forget()
    first.close()
    again = Spool(tmp_path / "spool.sqlite", BAY_3)
    assert again.begun() == {"j-1", "j-2"}
    again.close()


def test_only_the_last_thousand_jobs_are_remembered(tmp_path: Path) -> None:
    spool = Spool(tmp_path / "spool.sqlite", BAY_3)
    with spool._transaction() as db:
        for number in range(1001):
            note_begun(db, f"j-{number}")
        db.execute("COMMIT")
    assert len(spool.begun()) == 1000
    assert "j-0" not in spool.begun()
    spool.close()
