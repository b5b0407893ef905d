"""HEAD wherever GET is taken: the same answer without its body.

The routes' framework takes GET alone. What an answer would go on telling (a recording, the live
feed) is ended as soon as its headers are out, as if whoever asked had gone.

Source: RFC 9110 (2022), 9.1 (GET and HEAD have to be taken), 9.3.2.
"""

import asyncio

from starlette.types import ASGIApp, Message, Receive, Scope, Send


class Heads:
    """Stands before an app and asks it for GET when it is asked for HEAD."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http" or scope["method"] != "HEAD":
            await self._app(scope, receive, send)
            return
        head = _Head(receive, send)
        await self._app({**scope, "method": "GET"}, head.receive, head.send)


class _Head:
    """One answer, of which the headers go out and nothing else."""

    def __init__(self, receive: Receive, send: Send) -> None:
        self._receive = receive
        self._send = send
        self._is_asked = False
        self._is_out = asyncio.Event()

    async def receive(self) -> Message:
        """Give the request; then, once the headers are out, say that nobody listens any more."""
        if not self._is_asked:
            self._is_asked = True
            return await self._receive()
        await self._is_out.wait()
        return {"type": "http.disconnect"}

    async def send(self, message: Message) -> None:
        """Pass the headers on and end the answer with them."""
        if self._is_out.is_set():
            return
        await self._send(message)
        if message["type"] == "http.response.start":
            self._is_out.set()
            await self._send({"type": "http.response.body", "body": b"", "more_body": False})
