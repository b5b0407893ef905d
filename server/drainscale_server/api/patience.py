"""How long a connection may keep the server waiting; after that it is cut.

Who opens connections and never asks, or asks and never reads, holds what others need: a place
among the viewers of the feed above all. A viewer that went without a word (its machine asleep,
its cable pulled) is cut by the kernel, for nothing that is sent to it is confirmed; one that is
there but reads nothing is cut once what waits for it fills the buffers, which are kept small.

The package's class is extended in what asyncio asks of any protocol, not in its private parts.
"""

import asyncio
import logging
import socket

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

SEND_BUFFER_BYTES = 32 * 1024  # the kernel doubles it, for what it needs itself (tcp(7))
WAITING_BYTES = 16 * 1024  # beyond the kernel's; from then on the clock runs
log = logging.getLogger(__name__)


class PatientProtocol(H11Protocol):
    """One connection of the pages, with bounds on how long anything may take.

    Attributes:
        HEAD_S: From the connection, or the first byte, to the end of a request's headers.
        BODY_S: From there to the end of its body.
        REST_S: From the end of an answer, of which the buffers still hold some, to the next
            request; the package closes one that rests for 5 s, but waits until all is sent.
        STALL_S: So long what waits to be sent may stand still.
    """

    HEAD_S = 10.0
    BODY_S = 60.0
    REST_S = 60.0
    STALL_S = 15.0

    _awaited: str = ""
    _awaiting: asyncio.TimerHandle | None = None
    _stalled: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as the package has it
        """Take a new connection."""
        super().connection_made(transport)
        transport.set_write_buffer_limits(high=WAITING_BYTES)
        _bound(transport.get_extra_info("socket"), self.STALL_S)
        self._mind_request()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget a connection that is over."""
        self._await("", 0.0)
        self._flows()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Take what came."""
        super().data_received(data)
        self._mind_request()

    def on_response_complete(self) -> None:
        """Go on to the next request."""
        super().on_response_complete()
        self._mind_request(is_rest=not self.conn.trailing_data[0])

    def pause_writing(self) -> None:
        """Note that the other side does not keep up."""
        super().pause_writing()
        self._flows()
        self._stalled = self.loop.call_later(self.STALL_S, self._cut, "reads nothing")

    def resume_writing(self) -> None:
        """Note that it does again."""
        self._flows()
        super().resume_writing()

    def _mind_request(self, *, is_rest: bool = False) -> None:
        """See how much of the request is there."""
        match self.conn.their_state:
            case h11.IDLE if is_rest:
                self._await("no next request", self.REST_S)
            case h11.IDLE:
                self._await("no whole request", self.HEAD_S)
            case h11.SEND_BODY:
                self._await("no whole body", self.BODY_S)
            case _:
                self._await("", 0.0)

    def _await(self, what: str, for_s: float) -> None:
        if what == self._awaited:
            return
        self._awaited = what
        if self._awaiting is not None:
            self._awaiting.cancel()
            self._awaiting = None
        if what:
            self._awaiting = self.loop.call_later(for_s, self._cut, what)

    def _flows(self) -> None:
        if self._stalled is not None:
            self._stalled.cancel()
            self._stalled = None

    def _cut(self, why: str) -> None:
        log.info("%s is cut off: %s", (self.client or ["?"])[0], why)
        self.transport.abort()  # to close it would wait for what it does not read


def _bound(sock: socket.socket | None, stall_s: float) -> None:
    """Keep the kernel's buffer small, and let it give up a peer that confirms nothing."""
    if sock is None or sock.family not in (socket.AF_INET, socket.AF_INET6):
        return
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, SEND_BUFFER_BYTES)
    if hasattr(socket, "TCP_USER_TIMEOUT"):  # Linux
        sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, int(stall_s * 1000.0))
