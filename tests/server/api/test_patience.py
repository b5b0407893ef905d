"""Connections that ask slowly, never ask, or never read: real sockets, a server that listens."""

import socket
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import pytest
import uvicorn
from starlette.types import ASGIApp
from tests.kit.uplink.brokers import PATIENCE_S, eventually
from tests.kit.uplink.made_up import BAY_3
from tests.server.feed.conftest import live
from tests.server.shops import NOW_S, HandClock, Outbox, shop_of

from drainscale_server.api import patience
from drainscale_server.api.patience import PatientProtocol
from drainscale_server.api.shop import Shop
from drainscale_server.app import create_app
from drainscale_server.feed import hub, viewer
from drainscale_server.running import PagesServer
from drainscale_server.settings.server_file import Settings
from drainscale_server.store.store import Store

FEED = f"/api/v1/benches/{BAY_3.site}/{BAY_3.bench}/feed"


class Hasty(PatientProtocol):
    HEAD_S = 0.3
    BODY_S = 0.3
    STALL_S = 0.3


@dataclass
class Listening:
    port: int

    def connect(self, receive_bytes: int | None = None) -> socket.socket:
        sock = socket.socket()
        if receive_bytes is not None:  # before it is connected: the window is agreed upon then
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, receive_bytes)
        sock.settimeout(PATIENCE_S)
        sock.connect(("127.0.0.1", self.port))
        return sock


@dataclass
class Served(Listening):
    shop: Shop

    def viewers_n(self) -> int:
        return self.shop.feed._viewers_n()


@contextmanager
def listening(app: ASGIApp, protocol: type[PatientProtocol]) -> Iterator[Listening]:
    config = uvicorn.Config(app, http=protocol, ws="none", log_config=None)
    server = uvicorn.Server(config)
    with closing(socket.create_server(("127.0.0.1", 0))) as listening:
        thread = threading.Thread(target=server.run, args=([listening],))
        thread.start()
        try:
            assert eventually(lambda: server.started)
            yield Listening(listening.getsockname()[1])
        finally:
            server.should_exit = True
            thread.join(PATIENCE_S)


@contextmanager
def serving(shop: Shop, protocol: type[PatientProtocol]) -> Iterator[Served]:
    with listening(create_app(shop), protocol) as served:
        try:
            yield Served(served.port, shop)
        finally:
            shop.feed.close()


@pytest.fixture
def shop(store: Store, tmp_path: Path) -> Shop:
    made = shop_of(store, HandClock(), Outbox(), tmp_path)
    made.credentials.enrol(BAY_3)
    return made


@pytest.fixture
def hasty(shop: Shop) -> Iterator[Served]:
    with serving(shop, Hasty) as served:
        yield served


@pytest.fixture
def unhurried(shop: Shop) -> Iterator[Served]:
    with serving(shop, PatientProtocol) as served:
        yield served


def asked(path: str, method: str = "GET", more: str = "") -> bytes:
    return f"{method} {path} HTTP/1.1\r\nHost: localhost\r\n{more}\r\n".encode()


def answer(sock: socket.socket) -> bytes:
    """Read one answer of JSON."""
    told = b""
    while not told.endswith(b"}"):
        told += sock.recv(65536)
    return told


def test_the_server_s_pages_are_served_so(shop: Shop) -> None:
    server = PagesServer(create_app(shop), Settings(), shop.feed)
    assert server.config.http is PatientProtocol
    assert (PatientProtocol.HEAD_S, PatientProtocol.STALL_S) == (10.0, 15.0)


def test_a_viewer_that_never_reads_loses_its_place(
    hasty: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(hub, "TURN_S", 0.001)  # so much to tell that buffers fill soon
    with hasty.connect(receive_bytes=4096) as sock:
        sock.sendall(asked(FEED))
        assert eventually(lambda: hasty.viewers_n() == 1)
        assert eventually(lambda: has_news(hasty) and hasty.viewers_n() == 0)
        with suppress(ConnectionResetError):
            read_all(sock)  # comes to an end


def read_all(sock: socket.socket) -> None:
    while sock.recv(65536):
        pass


def test_a_viewer_that_never_took_its_headers_loses_its_place_too(hasty: Served) -> None:
    with hasty.connect(receive_bytes=4096) as sock:
        long = asked("/api/v1/openapi.json")  # fills the buffers, so the feed's headers wait
        sock.sendall(long + asked(FEED))
        assert eventually(lambda: hasty.viewers_n() == 1)
        assert eventually(lambda: hasty.viewers_n() == 0)


def has_news(served: Served) -> bool:
    clock = served.shop.clock
    assert isinstance(clock, HandClock)
    clock.now_s += 1.0
    served.shop.feed.on_live(live(clock.now_s - NOW_S))
    return True


def test_a_viewer_of_a_quiet_bench_that_never_reads_loses_its_place_too(
    unhurried: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(viewer, "LIFE_S", 0.5)
    with unhurried.connect() as sock:  # whatever it is told, the kernel's buffers hold
        sock.sendall(asked(FEED))
        assert eventually(lambda: unhurried.viewers_n() == 1)
        assert eventually(lambda: unhurried.viewers_n() == 0)
        told = b""
        while not told.endswith(b"0\r\n\r\n"):
            told += sock.recv(65536)
    assert b"event: snapshot" in told
    assert b"event: again" in told


def test_a_viewer_that_reads_stays(hasty: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hub, "TURN_S", 0.001)  # so much to tell that buffers fill soon
    with hasty.connect(receive_bytes=4096) as sock:
        sock.sendall(asked(FEED))
        taken_n = 0
        while taken_n < 300_000:  # much more than the buffers of the one above hold
            has_news(hasty)
            taken_n += len(sock.recv(65536))
        assert hasty.viewers_n() == 1


def test_what_is_sent_and_never_confirmed_is_given_up_by_the_kernel(unhurried: Served) -> None:
    found: list[int] = []
    bound = patience._bound

    def seen(sock: socket.socket | None, stall_s: float) -> None:
        bound(sock, stall_s)
        assert sock is not None
        found.append(sock.getsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT))

    patience._bound = seen
    try:
        with unhurried.connect() as sock:
            sock.sendall(asked("/healthz"))
            assert answer(sock).startswith(b"HTTP/1.1 200")
    finally:
        patience._bound = bound
    assert found == [15_000]


@pytest.mark.parametrize(
    "told",
    [b"", b"GET /healthz HT", b"GET /healthz HTTP/1.1\r\nHost: localhost\r\nX-Slow: ",
     asked("/api/v1/jobs", "POST", "Content-Length: 5\r\nContent-Type: application/json\r\n")],
    ids=["nothing", "half a line", "half a head", "no body"],
)  # fmt: skip
def test_who_does_not_finish_asking_is_cut_off(told: bytes, hasty: Served) -> None:
    with hasty.connect() as sock:
        sock.sendall(told)
        assert is_cut(sock)


def is_cut(sock: socket.socket) -> bool:
    try:
        return sock.recv(65536) == b""
    except ConnectionResetError:
        return True


def test_a_head_that_comes_byte_by_byte_is_cut_off_all_the_same(hasty: Served) -> None:
    with hasty.connect() as sock, pytest.raises((ConnectionResetError, BrokenPipeError)):
        trickle(sock)


def trickle(sock: socket.socket) -> None:
    pause = threading.Event()
    for _ in range(1000):
        sock.sendall(b"x")
        pause.wait(0.02)


def test_the_second_request_of_a_connection_has_its_limit_too(hasty: Served) -> None:
    with hasty.connect() as sock:
        sock.sendall(asked("/healthz"))
        assert answer(sock).startswith(b"HTTP/1.1 200")
        sock.sendall(asked("/healthz")[:-5])
        assert is_cut(sock)


def test_an_answer_that_takes_its_time_is_waited_for(
    hasty: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    pause = threading.Event()

    def slow() -> None:
        pause.wait(3.0 * Hasty.HEAD_S)

    monkeypatch.setattr(hasty.shop.store, "check", slow)
    with hasty.connect() as sock:
        sock.sendall(asked("/readyz"))
        assert answer(sock).startswith(b"HTTP/1.1 200")


def test_whoever_asks_in_two_pieces_is_answered(unhurried: Served) -> None:
    whole = asked("/healthz")
    with unhurried.connect() as sock:
        for _ in range(2):
            sock.sendall(whole[:20])
            sock.sendall(whole[20:])
            assert answer(sock).startswith(b"HTTP/1.1 200")
