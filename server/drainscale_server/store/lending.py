"""Reading connections, lent to whoever asks and given back.

A connection of SQLite must not serve two threads at once, and opening one for each question would
cost more than the question. So idle ones are kept.
"""

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from drainscale.errors import StoreError
from drainscale_server.store.file import connect

IDLE_N = 8  # more than that are closed when they come back


class Readers:
    """Lends reading connections to a file.

    Args:
        path: The store's file.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._lock = threading.Lock()
        self._idle: list[sqlite3.Connection] = []
        self._is_closed = False

    @contextmanager
    def lend(self) -> Iterator[sqlite3.Connection]:
        """Lend one that nobody else uses meanwhile; all its questions see one state of the store.

        Raises:
            StoreError: The store is closed, or SQLite refuses.
        """
        connection = self._take()
        try:
            connection.execute("BEGIN")
            yield connection
        except sqlite3.Error as error:
            raise StoreError(f"{self._path}: {error}") from error
        finally:
            self._give_back(connection)

    def close(self) -> None:
        """Close the idle ones now, those that are lent when they come back."""
        with self._lock:
            self._is_closed = True
            idle, self._idle = self._idle, []
        for connection in idle:
            connection.close()

    def _take(self) -> sqlite3.Connection:
        with self._lock:
            if self._is_closed:
                raise StoreError(f"{self._path}: the store is closed")
            if self._idle:
                return self._idle.pop()
        return connect(self._path, is_reader=True)

    def _give_back(self, connection: sqlite3.Connection) -> None:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        with self._lock:
            if not self._is_closed and len(self._idle) < IDLE_N:
                self._idle.append(connection)
                return
        connection.close()
