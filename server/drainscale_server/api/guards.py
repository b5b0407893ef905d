"""What stands before every route: host, origin, password, body's length; headers on every answer.

- A browser may ask for this server by an address, ``localhost`` or a name of ours; any other name
  is somebody's who points it here (DNS rebinding).
- A page of somebody else's may not change anything: ``Origin``, where it is given, has to be ours.
- Off this machine there is a password, over TLS: a browser logs in with it once, a program says it
  each time (door.py).

Source of the headers: OWASP Secure Headers Project, as of 2025, from memory.
"""

import ipaddress
import logging
from urllib.parse import quote, urlencode, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from drainscale.errors import ServerError
from drainscale_server.api.door import LOGIN, Door, is_open_to_all
from drainscale_server.api.problems import ProblemError, problem, server_problem

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
        door: Asks for session or password; None: nobody is asked.
        has_tls: Whether it is served over TLS.
    """

    def __init__(
        self,
        app: ASGIApp,
        names: frozenset[str],
        most_bytes: int,
        door: Door | None,
        *,
        has_tls: bool,
    ) -> None:
        self._app = app
        self._names = names
        self._most_bytes = most_bytes
        self._door = door
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
            token = None if self._door is None else self._door.session_of(Headers(scope=scope))
        except ServerError as error:  # without the passwords nobody gets in
            refused, token = server_problem(error), None
        if refused is not None:
            await refused(scope, receive, send)
            return
        receive = _Bounded(receive, self._most_bytes).receive
        if self._door is not None and token is not None:
            session = _Session(self._door, token, receive, send)
            receive, send = session.receive, session.send
        await self._app(scope, receive, send)

    async def _refused(self, scope: Scope) -> ASGIApp | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if not self._is_ours(host):
            return problem(421, "this server is not known by this name")
        if not await self._is_let_in(scope, headers):
            return _asked_in(scope, headers)
        if scope["method"] not in SAFE_METHODS and not self._is_same_origin(headers, host):
            return problem(403, "a page of somebody else's may not change anything here")
        length = headers.get("content-length", "0")
        if not length.isascii() or not length.isdecimal():
            return problem(400, "the header Content-Length is no number")
        if int(length) > self._most_bytes:
            return problem(413, f"the body may have {self._most_bytes} bytes at most")
        return None

    async def _is_let_in(self, scope: Scope, headers: Headers) -> bool:
        if self._door is None or is_open_to_all(scope["path"]):
            return True
        if self._door.session_of(headers) is not None:
            return True
        if await self._door.lets_in(headers):
            return True
        if "authorization" in headers:
            log.warning("wrong name or password from %s", (scope.get("client") or ["?"])[0])
        return False

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


def _asked_in(scope: Scope, headers: Headers) -> ASGIApp:
    """Answer who is not let in: a person's browser with the page to log in, others with 401.

    A script of our pages must not make the browser ask for name and password by itself.
    """
    is_person = scope["method"] in ("GET", "HEAD") and "authorization" not in headers
    if is_person and "text/html" in headers.get("accept", ""):
        query = scope["query_string"].decode("latin-1")  # a screen is set up by it
        wanted = quote(scope["path"], safe="/") + (f"?{query}" if query else "")
        return RedirectResponse(f"{LOGIN}?{urlencode({'next': wanted})}", 303)
    is_script = "sec-fetch-mode" in headers
    asks = "Session" if is_script else 'Basic realm="drainscale", charset="UTF-8"'
    return problem(401, "name and password are needed", headers={"www-authenticate": asks})


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


class _Session:
    """An answer to a browser that is logged in; it goes on no longer than the session does."""

    def __init__(self, door: Door, token: str, receive: Receive, send: Send) -> None:
        self._door = door
        self._token = token
        self._receive = receive
        self._send = send
        self._is_over = False

    async def receive(self) -> Message:
        return {"type": "http.disconnect"} if self._is_over else await self._receive()

    async def send(self, message: Message) -> None:
        if self._is_over:
            return
        if message.get("more_body") and not self._door.sessions.is_open(self._token):
            self._is_over = True
            message = {"type": "http.response.body", "body": b"", "more_body": False}
        await self._send(message)


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
