"""Samples of old jobs are dropped: what goes, what stays, and that nobody waits or is misled."""

import os
import random
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import msgspec
import pytest
from starlette.testclient import TestClient
from tests.kit.uplink.brokers import eventually
from tests.server.made_up import BAY_3, BODIES, numbered, pack, packs, service, through
from tests.server.record.conftest import ENTRIES, JOB, RECEIVED_S, arrivals, leaf_of
from tests.server.servers import ServerProcess
from tests.server.shops import HandClock, Outbox, client_of, shop_of

from drainscale.errors import StoreError
from drainscale_server.ingest.keeping import Keeper
from drainscale_server.record.building import build
from drainscale_server.record.dropping import DAY_S, PACKS_N, Dropping
from drainscale_server.record.model import ServiceRecord
from drainscale_server.record.sources import gather
from drainscale_server.store.file import migrations
from drainscale_server.store.store import Store

ROOT = Path(__file__).parents[3]
KILL_ROUNDS = int(os.environ.get("KILL_ROUNDS", "5"))
KEEP_DAYS = 30.0
LATER_S = RECEIVED_S + 31.0 * DAY_S
DROPPED_ON = "2027-02-15 08:00:00 UTC"


@pytest.fixture
def serviced(store: Store) -> Store:
    """A store with a whole service, 31 days ago."""
    Keeper(store).keep(arrivals("standpipe"))
    store.add_record_entries(JOB, ENTRIES, "board", RECEIVED_S)
    return store


def dropping(store: Store, at_s: float = LATER_S, days: float | None = KEEP_DAYS) -> Dropping:
    return Dropping(store, days, wall_s=lambda: at_s)


def record_of(store: Store) -> ServiceRecord:
    sources = gather(store, JOB)
    assert sources is not None
    return build(sources)


def packs_n(store: Store, job: str = JOB) -> int:
    return sum(one.leaf == "samples" for one in store.messages(job))


def test_the_record_is_the_same_when_the_samples_are_gone(serviced: Store) -> None:
    before = record_of(serviced)
    assert packs_n(serviced) > 100
    dropping(serviced).turn()
    assert packs_n(serviced) == 0
    after = record_of(serviced)
    seal = msgspec.structs.replace(before.seal, samples_dropped_at_s=LATER_S)
    assert after == msgspec.structs.replace(before, seal=seal)
    assert len(after.trends.flow) > 100
    assert len(after.seal.messages_sha256) == 64


def test_all_that_is_no_sample_stays_as_it_came(serviced: Store) -> None:
    dropping(serviced).turn()
    others = [one.payload for one in arrivals("standpipe") if leaf_of(one) != "samples"]
    assert [one.payload for one in serviced.messages(JOB)] == others


@pytest.mark.parametrize(
    ("at_s", "days"),
    [(RECEIVED_S + 29.9 * DAY_S, KEEP_DAYS), (LATER_S, None), (RECEIVED_S - 400 * DAY_S, 1.0)],
)
def test_before_their_time_samples_stay(serviced: Store, at_s: float, days: float | None) -> None:
    count = packs_n(serviced)
    dropping(serviced, at_s, days).turn()
    assert packs_n(serviced) == count


def test_a_job_counts_from_its_last_message_if_the_kit_s_clock_lags(store: Store) -> None:
    came_s = RECEIVED_S + 100.0 * DAY_S  # the kit takes it for January
    Keeper(store).keep([replace(one, received_s=came_s) for one in arrivals("standpipe")])
    dropping(store, came_s + 29.0 * DAY_S).turn()
    assert packs_n(store) > 100
    dropping(store, came_s + 31.0 * DAY_S).turn()
    assert packs_n(store) == 0


def test_a_job_that_came_while_the_server_s_clock_was_not_set_keeps_its_samples(
    store: Store,
) -> None:
    Keeper(store).keep([replace(one, received_s=3600.0) for one in arrivals("standpipe")])
    dropping(store).turn()  # it is right by now, and the job fifty years old
    assert packs_n(store) > 100


@pytest.mark.parametrize("missing", ["job-closed", "result"])
def test_a_job_that_is_not_over_or_has_no_result_keeps_its_samples(
    store: Store, missing: str
) -> None:
    Keeper(store).keep([one for one in arrivals("standpipe") if leaf_of(one) != missing])
    dropping(store).turn()
    assert packs_n(store) > 100


def test_a_job_with_a_bad_message_is_left_alone(
    serviced: Store, caplog: pytest.LogCaptureFixture
) -> None:
    serviced._file.writer.execute("UPDATE message SET crc32 = crc32 + 1 WHERE seq = 9")
    dropping(serviced).turn()
    assert serviced.unfinished_drops() == []
    assert f"job {JOB} keeps its samples" in caplog.text


@pytest.fixture
def client(serviced: Store, tmp_path: Path) -> Iterator[TestClient]:
    with client_of(shop_of(serviced, HandClock(), Outbox(), tmp_path)) as opened:
        yield opened


@pytest.mark.parametrize("what", ["recording.sensml", "recording.sensml.gz", "samples"])
def test_whoever_asks_for_the_samples_is_told_that_they_were_dropped_and_when(
    client: TestClient, serviced: Store, what: str
) -> None:
    assert client.get(f"/api/v1/jobs/{JOB}/{what}").status_code == 200
    dropping(serviced).turn()
    told = client.get(f"/api/v1/jobs/{JOB}/{what}")
    assert told.status_code == 410
    assert f"the samples of job {JOB} were dropped on {DROPPED_ON}" in told.json()["detail"]


def test_everything_else_of_the_job_is_told_as_before(client: TestClient, serviced: Store) -> None:
    parts = ("job.toml", "result", "steps", "events", "cues", "notes", "faults", "record")
    paths = [*(f"/api/v1/jobs/{JOB}/{part}" for part in parts), "/api/v1/used-oil.csv",
             f"/api/v1/planning?job={JOB}"]  # fmt: skip
    before = [client.get(path).text for path in paths]
    dropping(serviced).turn()
    assert [client.get(path).text for path in paths] == before
    assert client.get(f"/api/v1/jobs/{JOB}").json()["samples_dropped_s"] == LATER_S


def test_page_and_document_say_that_the_samples_were_dropped_and_when(
    client: TestClient, serviced: Store
) -> None:
    said = f"The samples of this job were dropped on {DROPPED_ON}"
    assert said not in client.get(f"/jobs/{JOB}/record").text
    dropping(serviced).turn()
    page = client.get(f"/jobs/{JOB}/record").text
    assert said in page
    assert page.count("<svg") >= 3
    assert "samples, before these were dropped" in page
    assert client.get(f"/jobs/{JOB}/record.pdf").status_code == 200
    assert client.get(f"/jobs/{JOB}/record.json").json()["seal"]["samples_dropped_at_s"] == LATER_S


def test_a_download_under_way_breaks_off_and_is_not_cut_short_unseen(store: Store) -> None:
    Keeper(store).keep([*service(), *packs(20, 500)])
    reading = store.packs("j-1")
    next(reading)
    dropping(store).turn()
    with pytest.raises(StoreError, match="job j-1: its samples were dropped"):
        list(reading)


def test_what_comes_again_or_late_is_acknowledged_and_not_stored(store: Store) -> None:
    keeper = Keeper(store)
    keeper.keep(service())
    dropping(store).turn()
    kept = keeper.keep([numbered(2, BODIES[1]), numbered(10, pack(90, 5))])
    assert kept.acks == {(BAY_3, "b1"): 10}
    assert (through(store), packs_n(store, "j-1")) == (10, 0)
    again = Keeper(store).keep([numbered(11, pack(95, 5)), numbered(12, BODIES[2])])
    assert again.counts == {"late-samples": 1, "stored": 1}
    assert store.counters()["late-samples"] == 3


def test_another_job_of_the_bench_keeps_its_own(store: Store) -> None:
    later = [replace(one, received_s=LATER_S - 1.0) for one in service("b2", "j-2")]
    Keeper(store).keep([*service(), *later])
    dropping(store).turn()
    assert (packs_n(store, "j-1"), packs_n(store, "j-2")) == (0, 1)


def test_the_room_is_given_back_to_the_disk(store: Store) -> None:
    Keeper(store).keep([*service(), *packs(20, 4000)])
    store.work_log_in()
    full = store.path.stat().st_size
    dropping(store).turn()
    assert full > 2_000_000
    assert store.path.stat().st_size < 0.15 * full


def test_a_store_that_could_not_shrink_can_once_it_was_opened(tmp_path: Path) -> None:
    path = tmp_path / "store.sqlite"
    with closing(sqlite3.connect(path)) as older:  # version 1, as it was made then
        older.executescript(
            f"{migrations()[0]} PRAGMA application_id = {0x64725374}; PRAGMA user_version = 1;"
        )
        assert older.execute("PRAGMA auto_vacuum").fetchone() == (0,)
    with Store(path) as store:
        test_the_room_is_given_back_to_the_disk(store)
    assert (tmp_path / "store.sqlite.version-1").exists()


def test_what_comes_in_meanwhile_waits_for_one_batch_at_most(store: Store) -> None:
    keeper = Keeper(store)
    keeper.keep([*service(), *packs(20, 30 * PACKS_N)])
    under_way: list[bool] = []
    with dropping(store):
        assert eventually(lambda: store.unfinished_drops() == ["j-1"])
        for seq in range(1, 11):
            keeper.keep([numbered(seq, BODIES[2], "b2", "j-2")])
            under_way.append(store.unfinished_drops() == ["j-1"])
        assert eventually(lambda: packs_n(store, "j-1") == 0)
    assert under_way[:3] == [True, True, True]


def test_it_ends_in_the_middle_when_it_has_to_and_goes_on_next_time(store: Store) -> None:
    Keeper(store).keep([*service(), *packs(20, 30 * PACKS_N)])
    with dropping(store):
        assert eventually(lambda: store.unfinished_drops() == ["j-1"])
    assert packs_n(store, "j-1") > PACKS_N
    dropping(store, days=None).turn()  # whatever is asked for by then
    assert (packs_n(store, "j-1"), store.unfinished_drops()) == (0, [])


def killed_dropping(path: Path, delay_s: float) -> None:
    """Let a process drop, and kill it some moments after it began."""
    code = (
        "import sys; from pathlib import Path\n"
        "from drainscale_server.record.dropping import Dropping\n"
        "from drainscale_server.store.store import Store\n"
        "dropping = Dropping(Store(Path(sys.argv[1])), 30.0, wall_s=lambda: float(sys.argv[2]))\n"
        "print('begins', flush=True); dropping.turn(); print('ended', flush=True)"
    )
    command = [sys.executable, "-c", code, str(path), str(LATER_S)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, cwd=ROOT) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"begins\n"
        threading.Event().wait(delay_s)  # into the middle of it
        process.kill()


def test_nothing_but_samples_is_missing_however_often_it_is_killed(tmp_path: Path) -> None:
    chance = random.Random(20261126)
    path = tmp_path / "store.sqlite"
    with Store(path) as store:
        Keeper(store).keep(arrivals("standpipe"))
        for n in range(12):
            told = [replace(one, payload=renamed(one.payload, n)) for one in arrivals("faults")]
            Keeper(store).keep(told)
        before = record_of(store)
        others = sum(one.leaf != "samples" for one in store.messages(JOB))
        counts: list[int] = []
    for _ in range(KILL_ROUNDS):
        killed_dropping(path, chance.uniform(0.0, 0.3))
        with Store(path) as store:
            assert store.file_faults == ()
            assert len(list(store.messages(JOB))) - packs_n(store) == others
            after = record_of(store)
            seal = msgspec.structs.replace(after.seal, samples_dropped_at_s=None)
            assert msgspec.structs.replace(after, seal=seal) == before
            counts.append(sum(packs_n(store, one.job) for one in store.jobs().rows))
    with Store(path) as store:
        dropping(store).turn()
        assert [packs_n(store, one.job) for one in store.jobs().rows] == [0] * 13
        assert store._file.writer.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert counts == sorted(counts, reverse=True)
    assert counts[0] > 0  # or nothing was killed in the middle of it


def renamed(payload: bytes, n: int) -> bytes:
    return payload.replace(b"j-made", b"j-%d" % n).replace(b'"made"', b'"m%d"' % n)


def test_the_server_drops_what_is_due_when_it_starts(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    folder.mkdir(mode=0o700)
    with Store(folder / "store.sqlite") as store:
        long_ago = [replace(one, received_s=1.77e9) for one in service()]
        Keeper(store).keep(long_ago)
    config = tmp_path / "server.toml"
    config.write_text("[data]\nkeep_samples_days = 1\n")
    server = ServerProcess(folder, "--config", str(config))
    server.start()
    try:
        assert eventually(lambda: "job j-1: its 10 samples are dropped" in server.log())
    finally:
        assert server.stop() == 0
    assert "Traceback" not in server.log()
