"""Who may come in where a password is needed: a browser with a session, a program with HTTP Basic.

Source: RFC 7617 (Basic), over TLS.
"""

import asyncio
import base64
import binascii
import hashlib
import hmac
import secrets

from starlette.datastructures import Headers

from drainscale_server.api.sessions import Sessions, token_of
from drainscale_server.broker.credentials import Credentials

WEB_USER = "shop"
LOGIN = "/login"
SESSION = "/api/v1/session"
# what a browser needs before it is let in: no data of the shop's
OPEN_TO_ALL = (LOGIN, SESSION)
STATIC = "/static/"


class Door:
    """Asks for session or password; slow the first time, quick for the same password again.

    One guess at a time is worked out, so that guessing takes no more than one core.
    """

    def __init__(self, credentials: Credentials, sessions: Sessions) -> None:
        self.sessions = sessions
        self._credentials = credentials
        self._key = secrets.token_bytes(32)
        self._good: tuple[bytes, float | None] | None = None
        self._one_at_a_time = asyncio.Lock()

    def session_of(self, headers: Headers) -> str | None:
        """Give the token of the session that a request belongs to; None if to none."""
        token = token_of(headers.get("cookie"))
        return token if token is not None and self.sessions.is_open(token) else None

    async def lets_in(self, headers: Headers) -> bool:
        """Tell whether a request may come in by its name and password."""
        given = _basic(headers.get("authorization"))
        return given is not None and given[0] == WEB_USER and await self.is_password(given[1])

    async def is_password(self, password: str) -> bool:
        """Tell whether it is the password of the pages."""
        digest = hmac.new(self._key, password.encode(), hashlib.sha256).digest()
        seen = (digest, self._credentials.web_made_s())
        if self._good is not None and self._good[1] == seen[1]:
            is_known = hmac.compare_digest(self._good[0], digest)
            if is_known:
                return True
        async with self._one_at_a_time:
            is_good = await asyncio.to_thread(self._credentials.is_web, password)
        if is_good:
            self._good = seen
        return is_good


def is_open_to_all(path: str) -> bool:
    """Tell whether a path is served to whoever is not logged in."""
    return path in OPEN_TO_ALL or path.startswith(STATIC)


def _basic(header: str | None) -> tuple[str, str] | None:
    scheme, _, coded = (header or "").partition(" ")
    if scheme.lower() != "basic":
        return None
    try:
        text = base64.b64decode(coded.strip(), validate=True).decode()
    except (binascii.Error, ValueError):
        return None
    user, colon, password = text.partition(":")
    return (user, password) if colon else None
