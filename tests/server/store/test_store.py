import threading
from typing import Any

import pytest
from tests.server.made_up import (
    BAY_3,
    OPENED,
    RECEIVED_S,
    numbered,
    pack,
    packs,
    payloads,
    service,
)

from drainscale.errors import StoreError
from drainscale.messages.records import FaultTold, ResultFormed
from drainscale.messages.telegrams import JobOrder
from drainscale_server.ingest.keeping import Keeper
from drainscale_server.ingest.reading import Arrived
from drainscale_server.store.rows import JobRow
from drainscale_server.store.store import Store


def order(job: str = "j-9", label: str = "blue van") -> JobOrder:
    return JobOrder(job=job, procedure=OPENED.spec.procedure, fluid=OPENED.spec.fluid, label=label)


def job_of(store: Store, job: str = "j-1") -> JobRow:
    found = store.job(job)
    assert found is not None
    return found


@pytest.fixture
def full(store: Store) -> Store:
    """A store with one whole job."""
    Keeper(store).keep(service())
    return store


def test_what_is_not_there_is_none_or_empty(store: Store) -> None:
    assert store.job("j-1") is None
    assert store.bench("north", "bay-3") is None
    assert store.job_of_bench("north", "bay-3", "j-1") is None
    assert store.result("j-1") is None
    assert store.events("j-1") == []
    assert list(store.packs("j-1")) == []
    assert list(store.messages("j-1")) == []
    assert store.record_entries("j-1") == {}
    assert store.jobs().rows == []
    assert store.counters() == {}


def test_the_job_file_that_the_core_was_told_comes_back_whole(full: Store) -> None:
    assert job_of(full).spec == OPENED.spec


def test_a_job_that_an_older_server_wrote_otherwise_is_there_without_what_can_t_be_read(
    full: Store,
) -> None:
    full._file.writer.execute("UPDATE job SET spec = '{\"procedure\":1}'")
    assert (job_of(full).spec, job_of(full).state) == (None, "done")


def test_the_final_result_and_the_latest_before_it_are_kept(full: Store) -> None:
    final, latest = full.result("j-1", final=True), full.result("j-1", final=False)
    assert final is not None
    assert final["net"] == {"volume_20C_L": 0.4}
    assert latest is not None
    assert latest["net"] is None
    assert full.result("j-1") == final


def test_an_older_result_that_comes_late_does_not_replace_a_newer(full: Store) -> None:
    late = ResultFormed(t=0.2, is_final=False, result={"net": "old"})
    Keeper(full).keep([numbered(20, late)])
    found = full.result("j-1", final=False)
    assert found is not None
    assert found["net"] is None


def test_a_planned_job_is_begun_by_its_first_message(store: Store) -> None:
    planned = store.plan_job("north", "bay-3", order("j-1"), at_s=5.0)
    assert (planned.state, planned.label, planned.ordered) == ("planned", "blue van", order("j-1"))
    Keeper(store).keep(service()[1:2])
    assert job_of(store).state == "open"
    Keeper(store).keep(service())
    assert (job_of(store).state, job_of(store).label) == ("done", "blue van")


def test_only_a_planned_job_can_be_taken_back(store: Store) -> None:
    store.plan_job("north", "bay-3", order(), at_s=5.0)
    assert store.take_back_job("j-9")
    assert not store.take_back_job("j-9")
    assert job_of(store, "j-9").state == "taken-back"
    Keeper(store).keep(service(job="j-9")[:1])  # the bench had begun already
    assert job_of(store, "j-9").state == "open"
    assert not store.take_back_job("j-9")


def test_an_id_that_is_taken_is_refused(full: Store) -> None:
    with pytest.raises(StoreError, match="j-1: there is one"):
        full.plan_job("north", "bay-4", order("j-1"), at_s=5.0)
    assert full.bench("north", "bay-4") is None  # nothing of it stays


def test_jobs_come_in_pages_the_last_one_first(store: Store) -> None:
    for number in range(7):
        store.plan_job("north", "bay-3", order(f"j-{number}"), at_s=float(number))
    seen: list[str] = []
    after: str | None = None
    for _ in range(3):
        page = store.jobs(after=after, limit=3)
        seen += [row.job for row in page.rows]
        after = page.after
    assert seen == [f"j-{number}" for number in reversed(range(7))]
    assert after is None


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({"bench": "bay-3"}, ["j-1"]),
        ({"site": "north"}, ["j-8", "j-1"]),
        ({"site": "south"}, []),
        ({"states": ["done", "open"]}, ["j-1"]),
        ({"text": "VAN"}, ["j-9", "j-8"]),
        ({"text": "100%"}, ["j-9"]),
        ({"text": "j-8"}, ["j-8"]),
        ({"text": "%"}, ["j-9"]),
    ],
)
def test_jobs_are_found_by_bench_state_and_text(
    full: Store, asked: dict[str, Any], found: list[str]
) -> None:
    full.plan_job("north", "bay-4", order("j-8"), at_s=1.0)
    full.plan_job("west", "bay-1", order("j-9", "van, 100% new fluid"), at_s=2.0)
    assert [row.job for row in full.jobs(**asked).rows] == found


def test_packs_of_a_resumed_job_come_in_the_order_of_their_samples(store: Store) -> None:
    late, early = packs(200, 3, boot="b2"), packs(1, 3, boot="b1")
    Keeper(store).keep([*late, *reversed(early)])
    assert list(store.packs("j-1")) == payloads([*early, *late])


def test_the_quarantine_comes_in_pages_the_oldest_first(store: Store) -> None:
    poison = [Arrived(BAY_3.topic("event"), f"{{{n}".encode(), RECEIVED_S) for n in range(5)]
    Keeper(store).keep(poison)
    first = store.quarantined(limit=3)
    second = store.quarantined(first.after, limit=3)
    assert [row.payload for row in (*first.rows, *second.rows)] == payloads(poison)
    assert second.after is None
    for odd in ("-1", "x", "9" * 30, "²"):
        assert store.quarantined(odd, limit=3) == first


def test_a_long_job_comes_whole_and_a_reader_that_stops_holds_nothing(store: Store) -> None:
    messages = packs(1, 450)
    Keeper(store).keep(messages)
    assert list(store.packs("j-1")) == payloads(messages)
    assert [row.payload for row in store.messages("j-1")] == payloads(messages)
    begun = store.packs("j-1")
    assert next(begun) == messages[0].payload
    assert [one.in_transaction for one in store._readers._idle] == [False]


def test_packs_of_a_stretch_are_those_with_samples_in_it(store: Store) -> None:
    Keeper(store).keep(packs(1, 20))  # five samples each, ten a second: 0.5 s to 10.4 s
    assert list(store.packs("j-1", 2.2, 3.0)) == payloads(packs(4, 3))
    assert list(store.packs("j-1", from_s=10.4)) == payloads(packs(20, 1))
    assert list(store.packs("j-1", to_s=0.4)) == []


def test_a_message_that_rotted_on_the_disk_is_told(full: Store) -> None:
    full._file.writer.execute(
        "UPDATE message SET payload = cast(replace(payload, '1000', '1001') AS BLOB) WHERE seq = 2"
    )
    with pytest.raises(StoreError, match="message 2 of boot b1 went bad"):
        list(full.packs("j-1"))


def test_what_people_add_is_never_overwritten(full: Store) -> None:
    full.add_record_entry("j-1", "mileage_km", 120_000, by="board", at_s=1.0)
    full.add_record_entries("j-1", {"mileage_km": 120_500, "torques": [{"Nm": 7}]}, "board", 2.0)
    entries = full.record_entries("j-1")
    assert entries["mileage_km"].value == 120_500
    assert entries["torques"].value == [{"Nm": 7}]
    assert [(one.key, one.value) for one in full.history("j-1")] == [
        ("mileage_km", 120_000), ("mileage_km", 120_500), ("torques", [{"Nm": 7}]),
    ]  # fmt: skip


def test_entries_of_a_job_that_is_not_there_are_refused(full: Store) -> None:
    with pytest.raises(StoreError, match="j-2: there is none"):
        full.add_record_entry("j-2", "mileage_km", 1, by="board", at_s=1.0)


def test_faults_of_a_bench_are_there_outside_of_a_job_as_well(full: Store) -> None:
    Keeper(full).keep([numbered(20, FaultTold(code="spool", text="no room"), job=None)])
    told = full.faults_of_bench("north", "bay-3")
    assert [(one.code, one.t) for one in told] == [("spool", None), ("pan", 0.8)]
    assert [one.seq for one in full.faults("j-1")] == [6]


def test_a_bench_is_seen_when_its_messages_come(full: Store) -> None:
    bench = full.bench(BAY_3.site, BAY_3.bench)
    assert bench is not None
    assert bench.last_seen_s == RECEIVED_S + 9
    assert full.benches() == [bench]


def test_readers_see_a_whole_batch_or_nothing_of_it_while_it_is_written(store: Store) -> None:
    seen: set[int] = set()
    is_done = threading.Event()

    def look() -> None:
        while not is_done.is_set():
            seen.add(len(list(store.packs("j-1"))))

    readers = [threading.Thread(target=look) for _ in range(3)]
    for reader in readers:
        reader.start()
    keeper = Keeper(store)
    for turn in range(30):
        keeper.keep(packs(1 + 10 * turn, 10))
    is_done.set()
    for reader in readers:
        reader.join()
    assert {n % 10 for n in seen} == {0}


def test_a_closed_store_says_so(full: Store) -> None:
    full.check()
    full.close()
    full.close()
    with pytest.raises(StoreError, match="closed"):
        full.check()
    with pytest.raises(StoreError, match="closed"):
        Keeper(full).keep([numbered(20, pack(0, 1))])
