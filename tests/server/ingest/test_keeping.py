import json
from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.server.made_up import (
    BAY_3,
    RECEIVED_S,
    numbered,
    pack,
    packs,
    payloads,
    service,
    stored_numbers,
    through,
)

from drainscale.errors import StoreError
from drainscale.messages.codec import encode
from drainscale.messages.records import EventTold, JobClosed
from drainscale.messages.telegrams import Kept as StillKept
from drainscale.messages.telegrams import Live, Status
from drainscale.messages.topics import BenchId
from drainscale_server.ingest import reading
from drainscale_server.ingest.keeping import Keeper
from drainscale_server.ingest.reading import Arrived
from drainscale_server.ingest.rereading import reread
from drainscale_server.store import jobs
from drainscale_server.store.store import Store

EVENT = EventTold(t=1.0, event="dripped", step="drain")
BAY_4 = BenchId("north", "bay-4")
ANY_JSON: st.SearchStrategy[object] = (
    st.none() | st.booleans() | st.text(max_size=8)
    | st.integers() | st.integers(-(2**70), 2**70) | st.floats(allow_nan=False)
    | st.just([]) | st.just({}) | st.just("\ud800") | st.just("\x00") | st.just(1e308)
)  # fmt: skip
TOPIC = BAY_3.topic("event")


@pytest.fixture
def keeper(store: Store) -> Keeper:
    return Keeper(store)


def status(boot: str = "b1", *kept: StillKept, is_retained: bool = False) -> Arrived:
    said = Status(site="north", bench="bay-3", boot=boot, state="online", kept=kept)
    return Arrived(BAY_3.topic("status"), encode(said), RECEIVED_S + 500.0, is_retained)


def still(boot: str, first: int, last: int) -> StillKept:
    return StillKept(boot=boot, first=first, last=last)


def poison(text: str = "{broken") -> Arrived:
    return Arrived(TOPIC, text.encode(), RECEIVED_S)


def test_a_whole_job_becomes_its_rows(store: Store, keeper: Keeper) -> None:
    kept = keeper.keep(service())
    assert kept.acks == {(BAY_3, "b1"): 9}
    assert [(one.seq, one.job) for one in kept.stored] == [(seq, "j-1") for seq in range(1, 10)]
    job = store.job("j-1")
    assert job is not None
    assert (job.state, job.kit_version, job.base_time_s) == ("done", "0.1.0", 1790176804.0)
    assert job.closed_s == 1790176804.0 + 1.1
    assert [one.event for one in store.events("j-1")] == ["flow-started"]
    assert [one.cue for one in store.cues("j-1")] == ["wait"]
    assert [(one.key, one.by) for one in store.notes("j-1")] == [("fill-plug", "foot-switch")]
    assert [one.code for one in store.faults("j-1")] == ["pan"]
    assert list(store.packs("j-1")) == [service()[1].payload]
    assert payloads(service()) == [row.payload for row in store.messages("j-1")]


@settings(max_examples=25)
@given(st.data())
def test_in_any_order_with_repeats_and_holes_it_is_stored_once_and_through_stops_at_a_hole(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    come = data.draw(st.lists(st.integers(1, 12), max_size=40))
    cuts = data.draw(st.sets(st.integers(0, 40), max_size=6))
    messages = {seq: numbered(seq, pack(seq, 3)) for seq in range(1, 13)}
    with Store(tmp_path_factory.mktemp("any") / "store.sqlite") as store:
        keeper = Keeper(store)
        edges = [0, *sorted(cuts), len(come)]
        for begin, end in pairwise(edges):
            kept = keeper.keep([messages[seq] for seq in come[begin:end]])
            held = set(come[:end])
            unbroken = next(n for n in range(13) if n + 1 not in held)
            assert set(kept.acks.values()) <= {unbroken}
        assert stored_numbers(store) == sorted(set(come))
        stored = store.counters().get("stored", 0)
        repeats = store.counters().get("repeat", 0)
        assert (stored, stored + repeats) == (len(set(come)), len(come))


def mutated(data: st.DataObject, seq: int) -> Arrived:
    """Make a message of any kind with one field, anywhere in it, replaced by something else."""
    sound = service()[data.draw(st.integers(0, 8))]
    said = json.loads(sound.payload)
    where = said
    while True:
        keys = list(where) if isinstance(where, dict) else list(range(len(where)))
        key = data.draw(st.sampled_from(keys))
        if isinstance(where[key], dict | list) and where[key] and data.draw(st.booleans()):
            where = where[key]
            continue
        where[key] = data.draw(ANY_JSON)
        break
    if isinstance(said, dict) and said.get("seq") in range(1, 10):
        said["seq"] = seq
    return Arrived(sound.topic, json.dumps(said).encode(), RECEIVED_S)


@settings(max_examples=30)
@given(st.data())
def test_whatever_one_field_holds_the_message_is_stored_or_put_aside_and_the_next_one_stored(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    with Store(tmp_path_factory.mktemp("mutated") / "store.sqlite") as store:
        odd = [mutated(data, seq) for seq in range(11, 11 + data.draw(st.integers(1, 4)))]
        Keeper(store).keep([*odd, numbered(50, EVENT, boot="b2"), numbered(1, EVENT, boot="b3")])
        counters = store.counters()
        assert 50 in stored_numbers(store, "b2")
        assert through(store, "b3") == 1
        assert not {"given-up", "unstorable"} & set(counters)
        assert "unstorable" not in {row.kind for row in store.quarantined().rows}
        for row in store.jobs().rows:  # and what was stored can be read back
            list(store.messages(row.job))
            store.result(row.job)


def test_a_new_server_goes_on_where_the_last_one_stood(store: Store) -> None:
    Keeper(store).keep([*packs(1, 3), *packs(5, 2)])
    assert Keeper(store).keep(packs(4, 1)).acks == {(BAY_3, "b1"): 6}


def test_each_start_of_a_bench_has_its_own_numbers(keeper: Keeper) -> None:
    kept = keeper.keep([*packs(1, 2, boot="b1"), *packs(1, 4, boot="b2")])
    assert kept.acks == {(BAY_3, "b1"): 2, (BAY_3, "b2"): 4}


def test_what_is_unreadable_goes_into_quarantine_and_counts_as_received(
    store: Store, keeper: Keeper
) -> None:
    newer = Arrived(TOPIC, b'{"format":2,"boot":"b1","seq":2,"new":1}', RECEIVED_S)
    kept = keeper.keep([*packs(1, 1), newer, *packs(3, 1)])
    assert kept.acks == {(BAY_3, "b1"): 3}
    assert stored_numbers(store) == [1, 3]
    row = store.quarantined().rows[0]
    assert (row.kind, row.boot, row.seq, row.payload) == ("newer-format", "b1", 2, newer.payload)
    assert Keeper(store).keep(packs(4, 1)).acks == {(BAY_3, "b1"): 4}


def test_the_same_unreadable_message_is_kept_once(store: Store, keeper: Keeper) -> None:
    for _ in range(3):
        keeper.keep([poison()])
    rows = store.quarantined().rows
    assert [(row.payload, row.repeats_n) for row in rows] == [(b"{broken", 2)]
    assert store.counters() == {"quarantined": 1, "quarantine-repeat": 2}


def test_one_number_with_two_contents_keeps_the_first_and_tells(
    store: Store, keeper: Keeper
) -> None:
    first, other = numbered(1, pack(0, 3)), numbered(1, pack(0, 4))
    keeper.keep([first, other, first])
    assert list(store.packs("j-1")) == [first.payload]
    assert [row.kind for row in store.quarantined().rows] == ["conflict"]
    counters = store.counters()
    assert (counters["conflict"], counters["repeat"], counters["stored"]) == (1, 1, 1)


def test_a_message_whose_number_is_unreadable_holds_its_place_until_it_came_again(
    store: Store, keeper: Keeper
) -> None:
    passed = [*packs(1, 2), poison(), *packs(4, 1)]
    assert keeper.keep(passed).acks == {(BAY_3, "b1"): 2}
    assert keeper.keep([poison(), *packs(4, 1)]).acks == {(BAY_3, "b1"): 4}
    assert [row.seq for row in store.quarantined().rows] == [3]
    assert Keeper(store).keep(packs(5, 1)).acks == {(BAY_3, "b1"): 5}


def test_what_the_bench_no_longer_has_is_counted_lost_and_passed(
    store: Store, keeper: Keeper
) -> None:
    keeper.keep([*packs(1, 2), *packs(5, 3)])
    kept = keeper.keep([status("b1", still("b1", 5, 7))])
    assert kept.acks == {(BAY_3, "b1"): 7}
    assert store.counters()["lost"] == 2
    assert through(store) == 7


def test_a_store_that_was_begun_anew_does_not_wait_for_what_the_old_one_had(
    store: Store, keeper: Keeper
) -> None:
    kept = keeper.keep([status("b1", still("b1", 500, 520)), *packs(500, 3)])
    assert kept.acks == {(BAY_3, "b1"): 502}
    assert store.counters()["lost"] == 499


def test_an_earlier_start_that_is_not_listed_any_more_is_closed(
    store: Store, keeper: Keeper
) -> None:
    keeper.keep([*packs(1, 1, boot="old"), *packs(3, 2, boot="old"), *packs(1, 2, boot="new")])
    kept = keeper.keep([status("new", still("new", 1, 2))])
    assert kept.acks == {(BAY_3, "old"): 4, (BAY_3, "new"): 2}
    assert store.counters()["lost"] == 1


def test_a_status_of_last_week_closes_nothing_and_is_no_sign_of_life(
    store: Store, keeper: Keeper
) -> None:
    keeper.keep([*packs(1, 1, boot="old"), *packs(3, 2, boot="old"), *packs(1, 2, boot="new")])
    before = store.bench("north", "bay-3")
    keeper.keep([status("new", still("new", 1, 2), is_retained=True)])
    after = store.bench("north", "bay-3")
    assert through(store, "old") == 1
    assert before is not None
    assert after is not None
    assert after.last_seen_s == before.last_seen_s
    assert after.status is not None


def test_a_status_with_impossible_numbers_harms_nothing(store: Store, keeper: Keeper) -> None:
    keeper.keep([*packs(1, 1), status("b1", still("b1", 2**60, 2**60), still("", 5, 9))])
    assert through(store) == 1


def test_figures_of_the_moment_are_told_and_not_stored(store: Store, keeper: Keeper) -> None:
    live = Live(site="north", bench="bay-3", boot="b1", now_s=1.0)
    kept = keeper.keep([Arrived(BAY_3.topic("live"), encode(live), RECEIVED_S)])
    assert [told.message for told, _ in kept.told] == [live]
    bench = store.bench("north", "bay-3")
    assert bench is not None
    assert bench.last_seen_s == RECEIVED_S
    assert kept.telegrams() == []


def test_figures_alone_are_not_worth_a_commit_each(store: Store, keeper: Keeper) -> None:
    changes_n = store._file.writer.total_changes
    for tenth in range(100):
        live = Live(site="north", bench="bay-3", boot="b1", now_s=tenth / 10.0)
        keeper.keep([Arrived(BAY_3.topic("live"), encode(live), RECEIVED_S + tenth / 10.0)])
    assert store._file.writer.total_changes - changes_n == 2  # the bench, and that it was seen
    for at_s in (RECEIVED_S + 10.0, RECEIVED_S - 3600.0):  # the second: a clock that was set back
        keeper.keep([Arrived(BAY_3.topic("live"), encode(live), at_s)])
        bench = store.bench("north", "bay-3")
        assert bench is not None
        assert bench.last_seen_s == at_s


def test_a_job_whose_beginning_was_lost_shows_what_there_is(store: Store, keeper: Keeper) -> None:
    keeper.keep(service()[1:4])
    job = store.job("j-1")
    assert job is not None
    assert (job.state, job.spec, job.base_time_s) == ("open", None, 1790176804.0)
    assert len(store.events("j-1")) == 1
    keeper.keep(service()[:1])  # it was only late
    job = store.job("j-1")
    assert job is not None
    assert job.spec is not None


def test_a_late_beginning_does_not_open_a_job_that_is_over(store: Store, keeper: Keeper) -> None:
    keeper.keep([numbered(9, JobClosed(t=1.1, outcome="aborted"))])
    keeper.keep(service()[:2])
    job = store.job("j-1")
    assert job is not None
    assert job.state == "aborted"


def test_two_benches_with_one_job_id_keep_two_jobs(store: Store, keeper: Keeper) -> None:
    kept = keeper.keep([*service(), *service(bench_id=BAY_4)])
    assert {one.job for one in kept.stored} == {"j-1", "j-1~north.bay-4"}
    assert [row.job for row in store.jobs().rows] == ["j-1~north.bay-4", "j-1"]
    other = store.job_of_bench("north", "bay-4", "j-1")
    assert other is not None
    assert (other.job, other.kit_job) == ("j-1~north.bay-4", "j-1")


def test_a_message_that_breaks_the_storing_goes_aside_and_the_others_are_stored(
    store: Store, keeper: Keeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    break_closing(monkeypatch)
    kept = keeper.keep(service())
    assert kept.acks == {(BAY_3, "b1"): 9}
    assert stored_numbers(store) == list(range(1, 9))
    row = store.quarantined().rows[0]
    assert (row.kind, row.seq) == ("unstorable", 9)
    assert "a bug" in row.reason


def break_closing(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError("a bug")

    monkeypatch.setattr(jobs, "closed", broken)


def test_a_later_version_takes_out_of_quarantine_what_it_can_store(
    store: Store, keeper: Keeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as broken:
        break_closing(broken)
        keeper.keep([*service(), poison()])
    assert reread(store) == {"reread": 1}
    assert stored_numbers(store) == list(range(1, 10))
    job = store.job("j-1")
    assert job is not None
    assert job.state == "done"
    assert [row.payload for row in store.quarantined().rows] == [b"{broken"]
    assert reread(store) == {}


def test_what_a_newer_format_brought_is_read_once_the_server_knows_it(
    store: Store, keeper: Keeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    messages = packs(1, 3)
    with monkeypatch.context() as older:  # a server that does not know packs yet
        refuse = refusing(lambda arrived: arrived.payload == messages[1].payload)
        older.setattr("drainscale_server.ingest.keeping.read", refuse)
        keeper.keep(messages)
    assert list(store.packs("j-1")) == payloads([messages[0], messages[2]])
    assert reread(store) == {"reread": 1}
    assert list(store.packs("j-1")) == payloads(messages)
    assert Keeper(store).keep(packs(4, 1)).acks == {(BAY_3, "b1"): 4}


def refusing(is_unknown: Callable[[Arrived], bool]) -> Callable[[Arrived], reading.Read]:
    def read(arrived: Arrived) -> reading.Read:
        found = reading.read(arrived)
        if not is_unknown(arrived) or not isinstance(found, reading.Numbered):
            return found
        return reading.Misfit("newer-format", "format 2", BAY_3, found.number)

    return read


def test_a_store_that_refuses_stores_nothing_of_the_batch_and_takes_it_again(
    store: Store, keeper: Keeper
) -> None:
    keeper.keep(packs(1, 1))
    store._file.writer.execute("PRAGMA max_page_count = 1")  # as if the disk were full
    big = [numbered(seq, pack(100 * seq, 100)) for seq in range(2, 30)]
    with pytest.raises(StoreError, match="full"):
        keeper.keep(big)
    assert stored_numbers(store) == [1]
    store._file.writer.execute("PRAGMA max_page_count = 1000000")
    assert keeper.keep(big).acks == {(BAY_3, "b1"): 29}


def test_the_quarantine_drops_only_what_nobody_was_promised(
    store: Store, keeper: Keeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("drainscale_server.store.quarantine.UNPROMISED_N", 3)
    newer = Arrived(TOPIC, b'{"format":2,"boot":"b1","seq":1}', RECEIVED_S)
    keeper.keep([newer, *(poison("{" + str(n)) for n in range(9))])
    left = [row.payload for row in store.quarantined().rows]
    assert left == [newer.payload, b"{6", b"{7", b"{8"]
    assert store.counters()["quarantine-dropped"] == 6


def test_what_is_too_large_is_kept_by_its_beginning(store: Store, keeper: Keeper) -> None:
    large = numbered(1, EventTold(t=1.0, event="x" * 5_000_000, step="drain"))
    assert keeper.keep([large]).acks == {(BAY_3, "b1"): 1}
    row = store.quarantined().rows[0]
    assert (row.kind, row.size) == ("too-large", len(large.payload))
    assert large.payload.startswith(row.payload)
    assert reread(store) == {}
