"""Frames between a world and its clients: four bytes of length, then MessagePack."""

import socket
from struct import Struct
from typing import Any

import msgspec

_LENGTH = Struct(">I")
LONGEST = 64 * 1024 * 1024  # a truth with its grid is some hundred kilobytes


class Ask(msgspec.Struct, array_like=True, frozen=True):
    """A question: which, and what it needs."""

    what: str
    args: list[Any] = []


class Answer(msgspec.Struct, array_like=True, frozen=True):
    """What the world says; `error` is a line for people, and then there is no value."""

    error: str | None
    value: Any = None


def send(link: socket.socket, frame: Ask | Answer) -> None:
    """Send one frame.

    Raises:
        OSError: The other side is gone.
    """
    body = msgspec.msgpack.encode(frame)
    link.sendall(_LENGTH.pack(len(body)) + body)


def receive(link: socket.socket) -> bytes:
    """Receive the body of one frame.

    Raises:
        ConnectionError: The other side is gone, or what it says is no frame.
    """
    (length,) = _LENGTH.unpack(_exactly(link, _LENGTH.size))
    if length > LONGEST:
        raise ConnectionError(f"a frame of {length} bytes is none")
    return _exactly(link, length)


def _exactly(link: socket.socket, size: int) -> bytes:
    body = bytearray()
    while len(body) < size:
        part = link.recv(size - len(body))
        if not part:
            raise ConnectionError("the other side closed the connection")
        body += part
    return bytes(body)
