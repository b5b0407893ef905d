import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from tests.kit.uplink.made_up import BAY_3, OPENED, samples_of

from drainscale.errors import SpoolError
from drainscale.uplink.batches import Entry, RunningJob, pack_of
from drainscale.uplink.spool import Spool
from drainscale.uplink.spool_file import is_damage, open_or_renew

RUNNING = RunningJob("j-1", OPENED)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    spool = Spool(tmp_path / "spool.sqlite", BAY_3, boot="b1")
    spool.append([Entry("j-1", OPENED), Entry("j-1", pack_of(RUNNING, samples_of(0, 2000)))])
    spool.close()
    return tmp_path / "spool.sqlite"


def alter(path: Path, statement: str) -> None:
    with closing(sqlite3.connect(path)) as db:
        db.execute(statement)
        db.commit()


def test_every_commit_goes_through_to_the_disk(path: Path) -> None:
    connection, _ = open_or_renew(path)
    # sqlite.org/pragma.html: synchronous 2 is FULL
    assert connection.execute("PRAGMA synchronous").fetchone() == (2,)
    assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    connection.close()


def test_a_sound_file_is_opened_and_nothing_is_told(path: Path) -> None:
    spool = Spool(path, BAY_3)
    assert spool.faults == ()
    assert spool.open_job() == RUNNING
    spool.close()


@pytest.mark.parametrize("offset", [0, 20, 100, 4096, 20480])
def test_a_damaged_file_is_set_aside_and_told(path: Path, offset: int) -> None:
    raw = bytearray(path.read_bytes())
    raw[offset : offset + 2000] = b"\xa5" * len(raw[offset : offset + 2000])
    path.write_bytes(raw)
    spool = Spool(path, BAY_3)
    assert spool.faults == ("the spool was damaged and is set aside as spool.sqlite.damaged-1",)
    assert (path.parent / "spool.sqlite.damaged-1").read_bytes() == raw
    assert spool.open_job() is None
    assert spool.append([Entry("j-2", OPENED)]) == 1
    spool.close()


def test_a_file_that_is_no_database_is_set_aside(path: Path) -> None:
    path.write_bytes(b"this is not a database, " * 400)
    spool = Spool(path, BAY_3)
    assert len(spool.faults) == 1
    spool.close()


def test_damaged_files_are_never_written_over(path: Path) -> None:
    for text in (b"first " * 500, b"second " * 500):
        path.write_bytes(text)
        Spool(path, BAY_3).close()
    assert path.with_name("spool.sqlite.damaged-1").read_bytes() == b"first " * 500
    assert path.with_name("spool.sqlite.damaged-2").read_bytes() == b"second " * 500


def test_an_empty_file_is_a_new_spool(tmp_path: Path) -> None:
    (tmp_path / "s").touch()
    spool = Spool(tmp_path / "s", BAY_3)
    assert spool.faults == ()
    spool.close()


def test_a_spool_of_a_newer_version_is_refused_and_left_alone(path: Path) -> None:
    alter(path, "PRAGMA user_version = 2")
    before = path.read_bytes()
    with pytest.raises(SpoolError, match="version 2, this kit knows 1"):
        Spool(path, BAY_3)
    assert path.read_bytes() == before


def test_somebody_else_s_database_is_refused_and_left_alone(path: Path) -> None:
    alter(path, "PRAGMA application_id = 7")
    with pytest.raises(SpoolError, match="no spool of ours"):
        Spool(path, BAY_3)
    assert path.exists()


def test_a_second_agent_is_refused(path: Path) -> None:
    first = Spool(path, BAY_3)
    with pytest.raises(SpoolError, match="in use by another agent"):
        Spool(path, BAY_3)
    assert first.append([Entry("j-1", pack_of(RUNNING, samples_of(2000, 1)))]) == 1
    first.close()


def test_a_missing_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(SpoolError, match="unable to open"):
        Spool(tmp_path / "nowhere" / "s", BAY_3)


def test_a_spool_damaged_while_open_is_renewed_under_another_boot(path: Path) -> None:
    spool = Spool(path, BAY_3, boot="b2")
    spool.append([Entry("j-1", pack_of(RUNNING, samples_of(2000, 10)))])
    spool.renew(RUNNING)
    assert spool.boot != "b2"
    assert spool.open_job() == RUNNING
    assert [(gap.from_s, gap.to_s) for gap in spool.gaps("j-1")] == [(0.0, 200.9)]
    assert len(spool.faults) == 1
    spool.close()


def test_a_full_disk_is_no_damage() -> None:
    with closing(sqlite3.connect(":memory:")) as db:
        db.execute("PRAGMA max_page_count = 2")
        with pytest.raises(sqlite3.OperationalError, match="full") as full:
            db.execute("CREATE TABLE t AS SELECT hex(randomblob(100000)) AS c")
    assert not is_damage(full.value)
