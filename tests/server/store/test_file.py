"""The store's file: durable, one server's, checked; and what becomes of it when it is torn."""

import os
import random
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from tests.server.made_up import numbered, pack, payloads, service, stored_numbers
from tests.torn_logs import TEARS, torn

from drainscale.errors import StoreError
from drainscale_server.ingest.keeping import Keeper
from drainscale_server.store import file as file_module
from drainscale_server.store.file import connect, migrations
from drainscale_server.store.store import Store

TEAR_ROUNDS = int(os.environ.get("TEAR_ROUNDS", "45"))


def test_every_connection_writes_through_to_the_disk(store: Store) -> None:
    # what PRAGMA synchronous answers: 2 is FULL (sqlite.org/pragma.html#pragma_synchronous)
    with store._readers.lend() as reader:
        for one in (store._file.writer, reader):
            assert one.execute("PRAGMA synchronous").fetchone() == (2,)
            assert one.execute("PRAGMA journal_mode").fetchone() == ("wal",)
            assert one.execute("PRAGMA foreign_keys").fetchone() == (1,)
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            reader.execute("DELETE FROM bench")


def test_what_the_shop_keeps_is_for_its_owner_only(store: Store) -> None:
    Keeper(store).keep(service())
    kept = list(store.path.parent.glob("store.sqlite*"))
    assert {one.name for one in kept} >= {"store.sqlite", "store.sqlite-wal", "store.sqlite-shm"}
    open_to_others = [one.name for one in kept if one.stat().st_mode & 0o077]
    assert open_to_others == ["store.sqlite.lock"]  # nothing is in it


def test_a_folder_in_the_place_of_the_file_is_told(tmp_path: Path) -> None:
    (tmp_path / "store.sqlite").mkdir()
    with pytest.raises(StoreError, match="is a directory"):
        Store(tmp_path / "store.sqlite")


def test_a_connection_that_would_not_write_through_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(file_module, "_FULL", 3)
    with pytest.raises(StoreError, match="does not write through"):
        connect(tmp_path / "store.sqlite", is_reader=False)


def test_a_second_server_on_the_same_file_is_refused(store: Store) -> None:
    code = (
        "import sys; from pathlib import Path; from drainscale_server.store.store import Store\n"
        "try: Store(Path(sys.argv[1]))\n"
        "except Exception as error: print(type(error).__name__, error)"
    )
    command = [sys.executable, "-c", code, str(store.path)]
    told = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    assert told == f"StoreError {store.path}: in use by another server\n"


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="no such file"):
        Store(tmp_path / "nowhere" / "store.sqlite")


@pytest.mark.parametrize("what", ["no database", "a page overwritten"])
def test_a_damaged_file_is_set_aside_and_a_new_one_begun(tmp_path: Path, what: str) -> None:
    path = tmp_path / "store.sqlite"
    with Store(path) as store:
        Keeper(store).keep(service())
    raw = bytearray(path.read_bytes())
    raw[0 if what == "no database" else 4096 : 4096 + 2000] = bytes(range(200)) * 10
    path.write_bytes(raw)
    with Store(path) as store:
        assert store.file_faults == (
            "the store was damaged and is set aside as store.sqlite.damaged-1",
        )
        assert store.jobs().rows == []
        assert Keeper(store).keep(service()).acks
    assert (tmp_path / "store.sqlite.damaged-1").read_bytes() == bytes(raw)
    with Store(path) as store:
        assert store.file_faults == ()


def test_another_program_s_database_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "store.sqlite"
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE letters (text)")
    with pytest.raises(StoreError, match="no store of ours"):
        Store(path)
    with closing(sqlite3.connect(path)) as other:
        assert other.execute("SELECT name FROM sqlite_schema").fetchall() == [("letters",)]


def test_a_store_of_a_newer_version_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "store.sqlite"
    Store(path).close()
    with closing(sqlite3.connect(path)) as newer:
        newer.execute("PRAGMA user_version = 99")
    with pytest.raises(StoreError, match=f"version 99, this server knows {len(migrations())}"):
        Store(path)


def test_an_older_store_is_brought_up_to_date_and_kept_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "store.sqlite"
    steps = migrations()
    with Store(path) as store:
        Keeper(store).keep(service())
    more = [*steps, "ALTER TABLE bench ADD COLUMN colour TEXT;"]
    monkeypatch.setattr(file_module, "migrations", lambda: more)
    path.with_name(f"store.sqlite.version-{len(steps)}.part").write_text(
        "of a start that was killed"
    )
    with Store(path) as store:
        assert payloads(service()) == [row.payload for row in store.messages("j-1")]
        assert store._file.writer.execute("SELECT colour FROM bench").fetchone() == (None,)
    monkeypatch.setattr(file_module, "migrations", lambda: steps)
    assert (tmp_path / f"store.sqlite.version-{len(steps)}").stat().st_mode & 0o077 == 0
    with Store(tmp_path / f"store.sqlite.version-{len(steps)}") as before:
        assert payloads(service()) == [row.payload for row in before.messages("j-1")]


def test_a_copy_that_fails_leaves_no_half_behind_and_the_store_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "store.sqlite"
    steps = migrations()
    with Store(path) as store:
        Keeper(store).keep(service())
    more = [*steps, "ALTER TABLE bench ADD COLUMN colour TEXT;"]
    monkeypatch.setattr(file_module, "migrations", lambda: more)
    half = f"store.sqlite.version-{len(steps)}.part"
    (tmp_path / f"{half}-journal").mkdir()  # stands for a disk without room
    with pytest.raises(StoreError):
        Store(path)
    assert not (tmp_path / half).exists()
    (tmp_path / f"{half}-journal").rmdir()
    with Store(path) as store:
        assert payloads(service()) == [row.payload for row in store.messages("j-1")]
    assert (tmp_path / f"store.sqlite.version-{len(steps)}").exists()


def test_a_step_that_fails_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "store.sqlite"
    Store(path).close()
    steps = migrations()
    more = [*steps, "ALTER TABLE bench ADD COLUMN colour TEXT; SELECT * FROM shelf;"]
    monkeypatch.setattr(file_module, "migrations", lambda: more)
    with pytest.raises(StoreError, match="no such table: shelf"):
        Store(path)
    monkeypatch.setattr(file_module, "migrations", lambda: steps)
    with Store(path) as store:
        columns = store._file.writer.execute("PRAGMA table_info(bench)").fetchall()
        assert "colour" not in [column[1] for column in columns]


def test_the_steps_are_numbered_without_a_gap() -> None:
    folder = Path(file_module.__file__).parent / "migrations"
    names = sorted(one.name for one in folder.glob("*.sql"))
    assert [int(name[:4]) for name in names] == list(range(1, len(migrations()) + 1))


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store as a power cut leaves it: half of it in the log only, a commit a message."""
    folder = tmp_path_factory.mktemp("whole")
    store = Store(folder / "live")
    keeper = Keeper(store)
    for seq in range(1, 81):
        if seq == 41:
            store._file.writer.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        keeper.keep([numbered(seq, pack(10 * seq, 10))])
    for tail in ("", "-wal"):
        shutil.copy(folder / f"live{tail}", folder / f"torn{tail}")
    store.close()
    return folder / "torn"


@pytest.mark.parametrize("how", TEARS)
def test_a_torn_log_leaves_an_unbroken_prefix(whole: Path, tmp_path: Path, how: str) -> None:
    chance = random.Random(how)
    lengths = set()
    for _ in range(TEAR_ROUNDS // 3):
        with Store(torn(whole, tmp_path / "store.sqlite", how, chance)) as store:
            assert store.file_faults == ()
            held = stored_numbers(store)
            assert held == list(range(1, len(held) + 1))
            assert 40 <= len(held) <= 80  # what was in the file itself is there
            samples_n = len(list(store.packs("j-1")))  # and what is made of it agrees
            assert samples_n == len(held) == store.counters()["stored"]
            assert Keeper(store).keep([numbered(81, pack(0, 1))]).acks.popitem()[1] == len(held) + (
                len(held) == 80
            )
            lengths.add(len(held))
    assert len(lengths) > 3  # the tears did reach the log
