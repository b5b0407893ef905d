"""The store's SQLite file: opened, checked, brought up to date, or set aside if it is damaged.

A write-ahead log with ``synchronous=FULL``: a commit that returned is on the disk, which is what
an acknowledgement promises. Set and read back on every connection, for it is not kept in the file.
"""

import fcntl
import logging
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import IO

from drainscale.errors import StoreError

BUSY_MS = 5_000  # the only other writer is somebody's sqlite3 shell
LOG_PAGES = 4_000  # 16 MB of log before it is worked into the file: fewer syncs in a storm
_APPLICATION_ID = 0x64725374  # "drSt"
_FULL = 2  # what PRAGMA synchronous answers for FULL
_INCREMENTAL = 2  # and PRAGMA auto_vacuum for INCREMENTAL
_DAMAGE = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
_TAILS = ("-wal", "-shm", "")
_log = logging.getLogger(__name__)


class _DamagedError(Exception):
    """The file is no SQLite database, or a broken one."""


@dataclass(frozen=True, slots=True)
class OpenFile:
    """The file, open: its writing connection, and what was found.

    Attributes:
        lock: Held for as long as the store is open.
        aside: Where a damaged predecessor is now.
    """

    path: Path
    writer: sqlite3.Connection
    lock: IO[bytes]
    aside: Path | None

    def close(self) -> None:
        """Close it; harmless if it is closed."""
        self.writer.close()
        self.lock.close()


def open_file(path: Path) -> OpenFile:
    """Open the store's file for this process alone; made if it is not there.

    Raises:
        StoreError: No such folder, not writable, in use by another server, no store at all, or
            of a newer version.
    """
    lock = _locked(path)
    try:
        try:
            return OpenFile(path, _prepared(path), lock, None)
        except _DamagedError:
            aside = _set_aside(path)
            return OpenFile(path, _prepared(path), lock, aside)
    except BaseException:
        lock.close()
        raise


def connect(path: Path, *, is_reader: bool) -> sqlite3.Connection:
    """Open one more connection; whoever uses it sees to it that only one thread does at a time.

    Raises:
        StoreError: It cannot be opened, or does not write through to the disk.
    """
    try:
        connection = sqlite3.connect(
            path, timeout=BUSY_MS / 1000.0, check_same_thread=False, isolation_level=None
        )
    except sqlite3.Error as error:
        raise StoreError(f"{path}: {error}") from error
    try:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute(f"PRAGMA wal_autocheckpoint = {LOG_PAGES}")
        connection.execute(f"PRAGMA query_only = {int(is_reader)}")
        found = [_pragma(connection, name) for name in ("synchronous", "foreign_keys")]
        if found != [_FULL, 1] or _pragma(connection, "journal_mode") != "wal":
            raise StoreError(f"{path}: this SQLite or disk does not write through: {found}")
    except BaseException:
        connection.close()
        raise
    return connection


def migrations() -> list[str]:
    """Give the steps of the schema in order; step n leads to version n."""
    folder = resources.files("drainscale_server.store") / "migrations"
    names = sorted(one.name for one in folder.iterdir() if one.name.endswith(".sql"))
    for number, name in enumerate(names, start=1):
        if not name.startswith(f"{number:04d}_"):
            raise RuntimeError(f"migration {name} stands at place {number}")
    return [(folder / name).read_text(encoding="utf-8") for name in names]


def _locked(path: Path) -> IO[bytes]:
    try:
        lock = path.with_name(path.name + ".lock").open("wb")
    except OSError as error:
        raise StoreError(f"{path}: {(error.strerror or str(error)).lower()}") from error
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        lock.close()
        raise StoreError(f"{path}: in use by another server") from error
    return lock


def _prepared(path: Path) -> sqlite3.Connection:
    connection: sqlite3.Connection | None = None
    _make(path)
    try:
        connection = connect(path, is_reader=False)
        _check(connection, path)
        _bring_up_to_date(connection, path)
    except sqlite3.Error as error:
        if connection is not None:
            connection.close()
        if _is_damage(error):
            raise _DamagedError(str(error)) from error
        raise StoreError(f"{path}: {error}") from error
    except BaseException:
        if connection is not None:
            connection.close()
        raise
    return connection


def _make(path: Path) -> None:
    """Make a file for its owner only, if there is none: it names people and their vehicles.

    What SQLite puts beside it gets the same mode.
    """
    try:
        os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
    except OSError as error:
        raise StoreError(f"{path}: {(error.strerror or str(error)).lower()}") from error


def _check(connection: sqlite3.Connection, path: Path) -> None:
    found = _pragma(connection, "quick_check")
    if found != "ok":
        raise _DamagedError(str(found))
    if _has_tables(connection) and _pragma(connection, "application_id") != _APPLICATION_ID:
        raise StoreError(f"{path}: a database, but no store of ours")


def _bring_up_to_date(connection: sqlite3.Connection, path: Path) -> None:
    steps = migrations()
    version = _pragma(connection, "user_version") if _has_tables(connection) else 0
    assert isinstance(version, int)
    if version > len(steps):
        raise StoreError(f"{path}: store of version {version}, this server knows {len(steps)}")
    if 0 < version < len(steps):
        _back_up(connection, path.with_name(f"{path.name}.version-{version}"))
    for number, step in enumerate(steps[version:], start=version + 1):
        connection.executescript(
            f"BEGIN IMMEDIATE; {step} PRAGMA application_id = {_APPLICATION_ID};"
            f" PRAGMA user_version = {number}; COMMIT;"
        )
    _let_shrink(connection, path)


def _let_shrink(connection: sqlite3.Connection, path: Path) -> None:
    """See to it that free pages can be given back to the disk, some at a time.

    The file has to be written anew for that, once; a new one is empty, so it costs nothing.
    """
    if _pragma(connection, "auto_vacuum") == _INCREMENTAL:
        return
    try:
        connection.execute(f"PRAGMA auto_vacuum = {_INCREMENTAL}")
        connection.execute("VACUUM")
    except sqlite3.OperationalError as error:  # no room for a copy: free pages are used again
        _log.warning("%s: it will not shrink when samples are dropped: %s", path, error)


def _back_up(connection: sqlite3.Connection, to: Path) -> None:
    """Keep the file as it was before its schema changes: the way back to the old server."""
    unfinished = to.with_name(to.name + ".part")
    unfinished.unlink(missing_ok=True)  # of a start that was killed
    _make(unfinished)
    try:
        with closing(sqlite3.connect(unfinished)) as copy:
            connection.backup(copy)
    except sqlite3.Error:  # no room, mostly: others need what is left of it
        unfinished.unlink()
        raise
    unfinished.replace(to)


def _has_tables(connection: sqlite3.Connection) -> bool:
    return bool(connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0])


def _set_aside(path: Path) -> Path:
    """Move a damaged file and its log out of the way, for somebody to look at."""
    aside = next(one for one in _aside_names(path) if not one.exists())
    try:
        for tail in _TAILS:  # the log first: it must never be taken for that of a new file
            with suppress(FileNotFoundError):
                path.with_name(path.name + tail).rename(aside.with_name(aside.name + tail))
    except OSError as error:
        raise StoreError(f"{path}: damaged, and can't be set aside: {error.strerror}") from error
    return aside


def _aside_names(path: Path) -> Iterator[Path]:
    number = 1
    while True:
        yield path.with_name(f"{path.name}.damaged-{number}")
        number += 1


def _is_damage(error: sqlite3.Error) -> bool:
    # the low byte of an extended code is its plain one (sqlite3.h)
    code = getattr(error, "sqlite_errorcode", None)
    return code is not None and (code & 0xFF) in _DAMAGE


def _pragma(connection: sqlite3.Connection, name: str) -> object:
    with closing(connection.execute(f"PRAGMA {name}")) as cursor:
        return cursor.fetchone()[0]
