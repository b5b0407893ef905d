"""The file of credentials: one for each enrolled bench, one for the pages. Hashes only, mode 0600.

A running server sees what ``drainscale server --enrol`` wrote beside it, without a restart.
"""

import fcntl
import os
import stat
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import msgspec

from drainscale.errors import ServerError
from drainscale.messages.topics import BenchId
from drainscale_server.broker.passwords import Hashed, hashed, is_password, new_password

FILE_NAME = "credentials.json"
FORMAT = 1
_UNKNOWN = hashed(new_password())  # so that a name nobody has takes as long as a wrong password


class Enrolled(msgspec.Struct, frozen=True):
    """One bench's password, and when it was made, seconds since 1970-01-01 UTC."""

    password: Hashed
    made_s: float


class _Kept(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    format: int = FORMAT
    benches: dict[str, Enrolled] = {}
    web: Enrolled | None = None


class Credentials:
    """Who may come in, as the file says now.

    Args:
        folder: The server's data folder; the file in it need not be there.

    Raises:
        ServerError: The file cannot be read, is damaged, or others may read it.
    """

    def __init__(self, folder: Path) -> None:
        self._path = folder / FILE_NAME
        self._lock = threading.Lock()
        self._seen: tuple[int, int] | None = None
        self._kept = _Kept()
        self._look()

    @property
    def folder(self) -> Path:
        """The server's data folder."""
        return self._path.parent

    def enrol(self, bench: BenchId) -> str:
        """Make a new password for a bench, in place of an older one.

        Returns:
            The password; nobody can tell it again.

        Raises:
            ServerError: The file cannot be written.
        """
        password = new_password()
        with self._changing() as kept:
            benches = kept.benches | {user_of(bench): _enrolled(password)}
            self._write(msgspec.structs.replace(kept, benches=benches))
        return password

    def revoke(self, bench: BenchId) -> bool:
        """Take a bench's password away; tells whether it had one.

        Raises:
            ServerError: The file cannot be written.
        """
        with self._changing() as kept:
            benches = dict(kept.benches)
            had = benches.pop(user_of(bench), None) is not None
            self._write(msgspec.structs.replace(kept, benches=benches))
        return had

    def new_web_password(self) -> str:
        """Make a new password for the pages, in place of an older one.

        Raises:
            ServerError: The file cannot be written.
        """
        password = new_password()
        with self._changing() as kept:
            self._write(msgspec.structs.replace(kept, web=_enrolled(password)))
        return password

    @property
    def has_web_password(self) -> bool:
        """Whether the pages have a password."""
        return self._look().web is not None

    def benches(self) -> set[BenchId]:
        """Name the enrolled benches."""
        return {BenchId(*user.split("/", 1)) for user in self._look().benches}

    def made_s(self, user: str) -> float | None:
        """Tell when a bench's present password was made; None if it has none."""
        enrolled = self._look().benches.get(user)
        return None if enrolled is None else enrolled.made_s

    def web_made_s(self) -> float | None:
        """Tell when the present password of the pages was made; None if there is none."""
        web = self._look().web
        return None if web is None else web.made_s

    def is_bench(self, user: str, password: str) -> bool:
        """Tell whether it is a bench's name and its password; slow on purpose."""
        return _is_of(self._look().benches.get(user), password)

    def is_web(self, password: str) -> bool:
        """Tell whether it is the password of the pages; slow on purpose."""
        return _is_of(self._look().web, password)

    def _look(self) -> _Kept:
        """Read the file if it changed since the last look."""
        with self._lock:
            try:
                found = self._path.stat()
            except FileNotFoundError:
                self._seen, self._kept = None, _Kept()
                return self._kept
            except OSError as error:
                raise ServerError(f"{self._path}: {error.strerror}") from error
            seen = (found.st_mtime_ns, found.st_ino)
            if seen != self._seen:
                self._kept = self._read(found.st_mode)
                self._seen = seen
            return self._kept

    def _read(self, mode: int) -> _Kept:
        if stat.S_IMODE(mode) & 0o077:
            raise ServerError(f"{self._path}: others may read it: chmod 600 {self._path}")
        try:
            kept = msgspec.json.decode(self._path.read_bytes(), type=_Kept)
        except OSError as error:
            raise ServerError(f"{self._path}: {error.strerror}") from error
        except msgspec.DecodeError as error:
            raise ServerError(f"{self._path}: damaged: {error}") from error
        if kept.format != FORMAT:
            raise ServerError(f"{self._path}: format {kept.format}, this version knows {FORMAT}")
        return kept

    @contextmanager
    def _changing(self) -> Iterator[_Kept]:
        """Hold others off while the file is read, changed and written."""
        try:
            lock = os.open(self._path.with_suffix(".lock"), os.O_CREAT | os.O_RDWR, 0o600)
        except OSError as error:
            raise ServerError(f"{self._path}: {error.strerror}") from error
        try:
            fcntl.flock(lock, fcntl.LOCK_EX)
            yield self._look()
        finally:
            os.close(lock)

    def _write(self, kept: _Kept) -> None:
        new = self._path.with_suffix(".new")
        try:
            handle = os.open(new, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600)
            with os.fdopen(handle, "wb") as stream:
                stream.write(msgspec.json.format(msgspec.json.encode(kept)) + b"\n")
                stream.flush()
                os.fsync(stream.fileno())
            new.replace(self._path)
        except OSError as error:
            raise ServerError(f"{self._path}: {error.strerror}") from error


def user_of(bench: BenchId) -> str:
    """Give the name by which a bench logs in: site and bench, as in its topics."""
    return f"{bench.site}/{bench.bench}"


def _enrolled(password: str) -> Enrolled:
    return Enrolled(hashed(password), time.time())


def _is_of(enrolled: Enrolled | None, password: str) -> bool:
    is_it = is_password(password, _UNKNOWN if enrolled is None else enrolled.password)
    return is_it and enrolled is not None
