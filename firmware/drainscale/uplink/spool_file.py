"""The spool's SQLite file: opened, checked, made, or set aside if it is damaged.

``synchronous=FULL`` with a write-ahead log: a commit that returned is on the disk. The file is
locked for good while it is open, so two agents can't write to one spool.
"""

import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from drainscale.errors import SpoolError

VERSION = 1
_APPLICATION_ID = 0x64725370  # "drSp"
_DAMAGE = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
_FULL = 2  # what PRAGMA synchronous answers for FULL

_SCHEMA = """
CREATE TABLE boots (
    place   INTEGER PRIMARY KEY AUTOINCREMENT,  -- in order of their starts
    boot    TEXT NOT NULL UNIQUE,
    last    INTEGER NOT NULL DEFAULT 0,         -- the last number given out
    through INTEGER NOT NULL DEFAULT 0          -- the last one acknowledged end to end
);
CREATE TABLE jobs (
    place  INTEGER PRIMARY KEY AUTOINCREMENT,
    job    TEXT NOT NULL UNIQUE,
    opened BLOB NOT NULL,                       -- JobOpened as JSON
    is_closed INTEGER NOT NULL DEFAULT 0
);
CREATE TABLE messages (
    boot    INTEGER NOT NULL REFERENCES boots (place),
    seq     INTEGER NOT NULL,
    job     INTEGER REFERENCES jobs (place),
    leaf    TEXT NOT NULL,
    payload BLOB NOT NULL,
    crc32   INTEGER NOT NULL,                   -- of the payload: SQLite would not see it rot
    first_t REAL,                               -- of the samples in it, s after the base time
    last_t  REAL,
    PRIMARY KEY (boot, seq)
);
CREATE INDEX messages_of_job ON messages (job, boot, seq);
CREATE TABLE gaps (
    job    INTEGER NOT NULL REFERENCES jobs (place),
    from_s REAL NOT NULL,                       -- samples that were never stored
    to_s   REAL NOT NULL
);
"""


class DamagedError(Exception):
    """The file is no SQLite database, or a broken one."""


def is_damage(error: sqlite3.Error) -> bool:
    """Tell damage of the file from a full disk, a lock and the like."""
    # the low byte of an extended code is its plain one (sqlite3.h)
    code = getattr(error, "sqlite_errorcode", None)
    return code is not None and (code & 0xFF) in _DAMAGE


def open_or_renew(path: Path) -> tuple[sqlite3.Connection, Path | None]:
    """Open the spool, new if there is none; a damaged one is set aside first.

    Returns:
        The connection, and where the damaged file is now (None: it was sound).

    Raises:
        SpoolError: No such folder, not writable, locked by another agent, no spool at all, or
            of a newer version.
    """
    try:
        return _open(path), None
    except DamagedError:
        aside = set_aside(path)
        return _open(path), aside


def set_aside(path: Path) -> Path:
    """Move a damaged file and its log out of the way, for somebody to look at.

    Returns:
        The file's new name.

    Raises:
        SpoolError: It can't be moved.
    """
    number = 1
    while (aside := path.with_name(f"{path.name}.damaged-{number}")).exists():
        number += 1
    try:
        # the log first: if the power goes in between, it must not be taken for that of a new file
        for tail in ("-wal", "-shm", ""):
            with suppress(FileNotFoundError):
                path.with_name(path.name + tail).rename(aside.with_name(aside.name + tail))
    except OSError as error:
        raise SpoolError(f"{path}: damaged, and can't be set aside: {error.strerror}") from error
    return aside


def _open(path: Path) -> sqlite3.Connection:
    try:
        # one connection, used by several threads under the lock of ``Spool``
        connection = sqlite3.connect(
            path, timeout=1.0, check_same_thread=False, isolation_level=None
        )
    except sqlite3.Error as error:
        raise SpoolError(f"{path}: {error}") from error
    try:
        _prepare(connection, path)
    except sqlite3.Error as error:
        connection.close()
        if is_damage(error):
            raise DamagedError(str(error)) from error
        raise SpoolError(f"{path}: {_said(error)}") from error
    except (SpoolError, DamagedError):
        connection.close()
        raise
    return connection


def _prepare(connection: sqlite3.Connection, path: Path) -> None:
    connection.execute("PRAGMA locking_mode = EXCLUSIVE")
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA journal_size_limit = 4194304")
    if _pragma(connection, "synchronous") != _FULL:
        raise SpoolError(f"{path}: this SQLite does not write through to the disk")
    found = _pragma(connection, "quick_check")
    if found != "ok":
        raise DamagedError(str(found))
    _check_version(connection, path)


def _check_version(connection: sqlite3.Connection, path: Path) -> None:
    version, kind = _pragma(connection, "user_version"), _pragma(connection, "application_id")
    tables = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
    if tables and kind != _APPLICATION_ID:
        raise SpoolError(f"{path}: a database, but no spool of ours")
    if tables and version != VERSION:
        raise SpoolError(f"{path}: spool of version {version}, this kit knows {VERSION}")
    if not tables:
        connection.executescript(
            f"BEGIN IMMEDIATE; {_SCHEMA} PRAGMA application_id = {_APPLICATION_ID};"
            f" PRAGMA user_version = {VERSION}; COMMIT;"
        )
    # take the lock now, not at the first write
    connection.execute("BEGIN IMMEDIATE")
    connection.execute("COMMIT")


def _pragma(connection: sqlite3.Connection, name: str) -> object:
    with closing(connection.execute(f"PRAGMA {name}")) as cursor:
        return cursor.fetchone()[0]


def _said(error: sqlite3.Error) -> str:
    if getattr(error, "sqlite_errorcode", None) == sqlite3.SQLITE_BUSY:
        return "in use by another agent"
    return str(error)
