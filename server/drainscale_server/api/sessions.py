"""Sessions of browsers: opened with the password, ended by whoever has one, all at once if need be.

A session is a random token in a cookie. The server keeps its hash, in a file of mode 0600 beside
the passwords, so that a restart logs no bay's screen out. A new password ends all of them.

Source of the cookie's form: RFC 6265bis (draft), 4.1, from memory.
"""

import hashlib
import logging
import os
import secrets
import threading
from collections.abc import Callable
from pathlib import Path

import msgspec

from drainscale.errors import ServerError
from drainscale_server.broker.credentials import Credentials

FILE_NAME = "sessions.json"
COOKIE = "__Host-drainscale"
LIFE_S = 90 * 86_400  # a screen on the wall is asked four times a year
MOST_N = 500  # the oldest goes
TOKEN_BYTES = 32
log = logging.getLogger(__name__)


class _Session(msgspec.Struct, frozen=True):
    """When it was opened, and when the password was made with which it was; s since 1970 UTC."""

    opened_s: float
    password_made_s: float | None


class _Kept(msgspec.Struct, frozen=True, kw_only=True):
    format: int = 1
    sessions: dict[str, _Session] = {}


class Sessions:
    """The sessions that are open.

    Args:
        credentials: With the password of the pages; the file is beside theirs.
        clock: s since 1970 UTC.
    """

    def __init__(self, credentials: Credentials, clock: Callable[[], float]) -> None:
        self._credentials = credentials
        self._clock = clock
        self._path = credentials.folder / FILE_NAME
        self._lock = threading.Lock()
        self._sessions = self._read()

    def open(self) -> str:
        """Open one; give its token, which nobody can tell again.

        Raises:
            ServerError: The file cannot be written.
        """
        token = secrets.token_urlsafe(TOKEN_BYTES)
        session = _Session(self._clock(), self._credentials.web_made_s())
        with self._lock:
            good = {name: one for name, one in self._sessions.items() if self._is_good(one)}
            newest = sorted(good.items(), key=lambda item: item[1].opened_s)[1 - MOST_N :]
            self._keep(dict(newest) | {_digest(token): session})
        return token

    def is_open(self, token: str) -> bool:
        """Tell whether it is the token of a session that is open."""
        session = self._sessions.get(_digest(token))
        return session is not None and self._is_good(session)

    def close(self, token: str) -> None:
        """End one; harmless if it is over.

        Raises:
            ServerError: The file cannot be written.
        """
        with self._lock:
            left = {name: one for name, one in self._sessions.items() if name != _digest(token)}
            self._keep(left)

    def close_all(self) -> None:
        """End all.

        Raises:
            ServerError: The file cannot be written.
        """
        with self._lock:
            self._keep({})

    def _is_good(self, session: _Session) -> bool:
        is_young = self._clock() - session.opened_s < LIFE_S
        return is_young and session.password_made_s == self._credentials.web_made_s()

    def _read(self) -> dict[str, _Session]:
        try:
            return msgspec.json.decode(self._path.read_bytes(), type=_Kept).sessions
        except FileNotFoundError:
            return {}
        except (OSError, msgspec.DecodeError) as error:  # everybody logs in anew
            log.warning("%s: %s", self._path, error)
            return {}

    def _keep(self, sessions: dict[str, _Session]) -> None:
        """Write first: what was ended must not be back after a restart."""
        _write(self._path, msgspec.json.encode(_Kept(sessions=sessions)))
        self._sessions = sessions


def _write(path: Path, content: bytes) -> None:
    new = path.with_suffix(".new")
    try:
        handle = os.open(new, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        new.replace(path)
    except OSError as error:
        raise ServerError(f"{path}: {error.strerror}") from error


def token_of(header: str | None) -> str | None:
    """Read the token out of a header ``Cookie``; None: there is none.

    Other programs on this machine may have set cookies of whatever form: a browser sends them here
    too, for cookies know no ports. So nothing but ours is looked at.

    Example:
        >>> token_of('theirs={"a": 1}; __Host-drainscale=abc')
        'abc'
    """
    for pair in (header or "").split(";"):
        name, _, value = pair.partition("=")
        if name.strip() == COOKIE:
            return value.strip()
    return None


def cookie_of(token: str) -> str:
    """Write the header ``Set-Cookie`` of a session; an empty token takes it from the browser."""
    life_s = LIFE_S if token else 0
    return f"{COOKIE}={token}; Path=/; Max-Age={life_s}; Secure; HttpOnly; SameSite=Lax"


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "surrogateescape")).hexdigest()
