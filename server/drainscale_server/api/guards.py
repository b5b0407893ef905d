"""What stands before every route: host, origin, password, body's length; headers on every answer.

- A browser may ask for this server by an address, ``localhost`` or a name of ours; any other name
  is somebody's who points it here (DNS rebinding).
- A page of somebody else's may not change anything: ``Origin``, where it is given, has to be ours.
- Off this machine there is a password (HTTP Basic, RFC 7617, over TLS).

Source of the headers: OWASP Secure Headers Project, as of 2025, from memory.
"""

import asyncio
import base64
import binascii
import hashlib
import hmac
import ipaddress
import logging
import secrets
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from drainscale.errors import ServerError
from drainscale_server.api.problems import ProblemError, problem, server_problem
from drainscale_server.broker.credentials import Credentials

WEB_USER = "shop"
SAFE_METHODS = ("GET", "HEAD", "OPTIONS")
POLICY = (
    "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none';"
    " object-src 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
}
HSTS = "max-age=31536000"
KB = 1024

log = logging.getLogger(__name__)


class Guards:
    """Stands before an app.

    Args:
        app: The app.
        names: Host names by which the server may be asked for, in small letters.
        most_bytes: Of a body.
        credentials: Hold the password of the pages; None: nobody is asked for one.
        has_tls: Whether it is served over TLS.
    """

    def __init__(
        self,
        app: ASGIApp,
        names: frozenset[str],
        most_bytes: int,
        credentials: Credentials | None,
        *,
        has_tls: bool,
    ) -> None:
        self._app = app
        self._names = names
        self._most_bytes = most_bytes
        self._door = None if credentials is None else _Door(credentials)
        self._headers = HEADERS | ({"strict-transport-security": HSTS} if has_tls else {})
        self._scheme = "https" if has_tls else "http"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        send = self._with_headers(send, scope["path"])
        try:
            refused = await self._refused(scope)
        except ServerError as error:  # without the passwords nobody gets in
            refused = server_problem(error)
        if refused is not None:
            await refused(scope, receive, send)
            return
        body = _Bounded(receive, self._most_bytes)
        await self._app(scope, body.receive, send)

    async def _refused(self, scope: Scope) -> ASGIApp | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if not self._is_ours(host):
            return problem(421, "this server is not known by this name")
        if self._door is not None and not await self._door.lets_in(headers.get("authorization")):
            if "authorization" in headers:
                log.warning("wrong name or password from %s", (scope.get("client") or ["?"])[0])
            asks = {"www-authenticate": 'Basic realm="drainscale", charset="UTF-8"'}
            return problem(401, "name and password are needed", headers=asks)
        if scope["method"] not in SAFE_METHODS and not self._is_same_origin(headers, host):
            return problem(403, "a page of somebody else's may not change anything here")
        length = headers.get("content-length", "0")
        if not length.isascii() or not length.isdecimal():
            return problem(400, "the header Content-Length is no number")
        if int(length) > self._most_bytes:
            return problem(413, f"the body may have {self._most_bytes} bytes at most")
        return None

    def _is_ours(self, host: str) -> bool:
        name = _name_of(host)
        if name is None:
            return False
        if name in self._names:
            return True
        try:
            ipaddress.ip_address(name)
        except ValueError:
            return False
        return True  # an address can't be pointed here by somebody's name server

    def _is_same_origin(self, headers: Headers, host: str) -> bool:
        origin = headers.get("origin")
        if origin is None:  # no browser, or one that has nothing to hide
            return headers.get("sec-fetch-site", "same-origin") in ("same-origin", "none")
        return origin.lower() == f"{self._scheme}://{host.lower()}"

    def _with_headers(self, send: Send, path: str) -> Send:
        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in self._headers.items():
                    headers.setdefault(name, value)
                if path.startswith(("/api/", "/jobs/")):
                    headers.setdefault("cache-control", "no-store")
            await send(message)

        return sending


def _name_of(host: str) -> str | None:
    """The host of a Host header, without port and brackets; None if it is none."""
    try:
        parts = urlsplit(f"//{host}")
        _ = parts.port
    except ValueError:
        return None
    if parts.username is not None or parts.path or parts.query or parts.fragment:
        return None
    return parts.hostname


class _Door:
    """Asks for the password; slow the first time, quick for the same one again.

    One guess at a time is worked out, so that guessing takes no more than one core.
    """

    def __init__(self, credentials: Credentials) -> None:
        self._credentials = credentials
        self._key = secrets.token_bytes(32)
        self._good: tuple[bytes, float | None] | None = None
        self._one_at_a_time = asyncio.Lock()

    async def lets_in(self, header: str | None) -> bool:
        given = _basic(header)
        if given is None:
            return False
        user, password = given
        if user != WEB_USER:
            return False
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


class _Bounded:
    """A body that ends the request when it gets too long, whatever its header said."""

    def __init__(self, receive: Receive, most_bytes: int) -> None:
        self._receive = receive
        self._most_bytes = self._left = most_bytes

    async def receive(self) -> Message:
        message = await self._receive()
        if message["type"] == "http.request":
            self._left -= len(message.get("body", b""))
            if self._left < 0:
                raise ProblemError(413, f"the body may have {self._most_bytes} bytes at most")
        return message
