"""What earlier versions wrote is still read, and this one writes the same."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from tests.golden.write import spool_as_sql
from tests.kit.messages.examples import one_of_each
from tests.kit.uplink.made_up import BAY_3, OPENED, samples_of

from drainscale.messages.codec import decode, encode
from drainscale.messages.records import FORMAT
from drainscale.messages.topics import LEAVES
from drainscale.uplink.batches import Gap, RunningJob
from drainscale.uplink.session import Standing
from drainscale.uplink.spool import Spool

FOLDER = Path(__file__).parent / "format-1"


@pytest.mark.parametrize("leaf", sorted(LEAVES))
def test_message_of_format_1_is_read(leaf: str) -> None:
    payload = (FOLDER / f"{leaf}.json").read_bytes()
    assert decode(f"drainscale/north/bay-3/{leaf}", payload) == one_of_each()[leaf]


@pytest.mark.parametrize("leaf", sorted(LEAVES))
def test_message_is_written_as_in_format_1(leaf: str) -> None:
    assert FORMAT == 1, "a new format needs a new folder here"
    assert encode(one_of_each()[leaf]) == (FOLDER / f"{leaf}.json").read_bytes()


def test_spool_of_version_1_is_taken_up(tmp_path: Path) -> None:
    path = tmp_path / "spool"
    with closing(sqlite3.connect(path)) as db:
        db.executescript((FOLDER / "spool.sql").read_text(encoding="utf-8"))
    spool = Spool(path, BAY_3, boot="third")
    assert spool.faults == ()
    assert spool.open_job() == RunningJob("j-1", OPENED)
    assert list(spool.samples("j-1")) == samples_of(0, 10) + samples_of(50, 10)
    assert spool.gaps("j-1") == [Gap(0.9, 5.0)]
    told = (Standing("first", 1, 2), Standing("second", 0, 1), Standing("third", 0, 0))
    assert spool.standings() == told
    assert len(spool.messages("first", 1, 2)) == 2
    spool.close()


def content(script: str) -> dict[str, list[tuple[object, ...]]]:
    """Give schema and rows, for the words of a dump are not the same in every SQLite."""
    with closing(sqlite3.connect(":memory:")) as db:
        db.executescript(script)
        schema = db.execute("SELECT type, name, sql FROM sqlite_schema ORDER BY name").fetchall()
        tables = [name for kind, name, _ in schema if kind == "table"]
        found = {name: db.execute(f"SELECT * FROM {name}").fetchall() for name in tables}
        return {"schema": schema, **found}


def test_spool_is_written_as_in_version_1() -> None:
    kept = (FOLDER / "spool.sql").read_text(encoding="utf-8")
    assert content(spool_as_sql()) == content(kept)
