"""Long answers in small pieces, each sent once the one before has nearly gone.

An answer that is handed over whole waits in memory, and nobody sees whether it flows: a slow
phone would look like one that reads nothing (patience.py).
"""

from starlette.types import ASGIApp, Message, Receive, Scope, Send

PIECE_BYTES = 16 * 1024


class Pieces:
    """Stands before an app and cuts what it answers."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""

        async def sending(message: Message) -> None:
            body = message.get("body", b"")
            if message["type"] != "http.response.body" or len(body) <= PIECE_BYTES:
                await send(message)
                return
            for begin in range(0, len(body), PIECE_BYTES):
                end = begin + PIECE_BYTES
                is_more = end < len(body) or message.get("more_body", False)
                await send({**message, "body": body[begin:end], "more_body": is_more})

        await self._app(scope, receive, sending)
