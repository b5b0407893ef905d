"""Long answers reach whoever reads slowly but steadily, and are the same in pieces."""

import asyncio
import threading
from collections.abc import Sequence

import pytest
from starlette.responses import Response
from starlette.types import Message, Receive, Scope, Send
from tests.server.api.test_patience import Hasty, asked, listening

from drainscale_server.api.pieces import PIECE_BYTES, Pieces

LONG = bytes(range(256)) * 2000  # 512 kB
READ_BYTES = 4096


async def long_answer(scope: Scope, receive: Receive, send: Send) -> None:
    if scope["type"] == "http":
        await Response(LONG)(scope, receive, send)


def test_a_long_answer_reaches_whoever_reads_slowly_but_steadily() -> None:
    pause = threading.Event()
    with (
        listening(Pieces(long_answer), Hasty) as served,
        served.connect(receive_bytes=READ_BYTES) as sock,
    ):
        sock.sendall(asked("/"))
        told = b""
        while len(told) < len(LONG) and (more := sock.recv(READ_BYTES)):  # many times STALL_S
            told += more
            pause.wait(0.01)
        while not told.endswith(LONG[-256:]):
            told += sock.recv(READ_BYTES)
    assert told.endswith(b"\r\n\r\n" + LONG)


@pytest.mark.parametrize(
    ("told", "sizes"),
    [([b""], [0]), ([b"a" * PIECE_BYTES], [PIECE_BYTES]),
     ([b"a" * (2 * PIECE_BYTES + 1), b"b", b""], [PIECE_BYTES, PIECE_BYTES, 1, 1, 0])],
    ids=["empty", "just one", "a long one, a short one, the end"],
)  # fmt: skip
def test_pieces_make_the_same_answer_and_only_the_last_ends_it(
    told: Sequence[bytes], sizes: Sequence[int]
) -> None:
    sent: list[Message] = []

    async def app(_scope: Scope, _receive: Receive, send: Send) -> None:
        for n, body in enumerate(told, start=1):
            is_more = n < len(told)
            await send({"type": "http.response.body", "body": body, "more_body": is_more})

    async def send(message: Message) -> None:
        sent.append(message)

    async def receive() -> Message:
        raise AssertionError("nobody asks")

    asyncio.run(Pieces(app)({"type": "http"}, receive, send))
    assert [len(one["body"]) for one in sent] == sizes
    assert b"".join(one["body"] for one in sent) == b"".join(told)
    assert [one["more_body"] for one in sent] == [True] * (len(sizes) - 1) + [False]
