"""The embedded broker against real clients: who comes in, and what they may say."""

import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from importlib.metadata import version
from pathlib import Path

import pytest
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from drainscale.errors import ServerError
from drainscale.messages.topics import BenchId
from drainscale_server.broker.amqtt_package import TESTED_VERSION
from drainscale_server.broker.credentials import Credentials
from drainscale_server.broker.embedded import INNER_HOST, STOP_S, EmbeddedBroker, listen
from drainscale_server.settings.server_file import BrokerPlace

pytestmark = pytest.mark.usefixtures("quick_passwords")
PATIENCE_S = 20.0
BAY_1, BAY_2 = BenchId("north", "bay-1"), BenchId("north", "bay-2")


@pytest.fixture
def credentials(tmp_path: Path) -> Credentials:
    return Credentials(tmp_path)


@pytest.fixture
def broker(credentials: Credentials) -> Iterator[EmbeddedBroker]:
    made = EmbeddedBroker(BrokerPlace(port=0), None, credentials)
    made.start()
    yield made
    made.stop()


class Caller:
    """One client; remembers what it was told."""

    def __init__(self, broker: EmbeddedBroker, user: str | None, password: str, name: str) -> None:
        self._changed = threading.Condition()
        self.heard: list[tuple[str, bytes]] = []
        self.code: int | None = None
        self.granted: list[int] = []
        self.is_gone = False
        self.client = Client(
            CallbackAPIVersion.VERSION2, client_id=name, reconnect_on_failure=False
        )
        if user is not None:
            self.client.username_pw_set(user, password)
        self.client.on_connect = lambda _c, _d, _f, code, _p: self._set(code=code.value)
        self.client.on_subscribe = lambda _c, _d, _m, codes, _p: self._set(
            granted=[code.value for code in codes]
        )
        self.client.on_disconnect = lambda *_: self._set(is_gone=True)
        self.client.on_message = self._on_message
        self._port = broker.port

    def connect(self) -> int | None:
        self.client.connect("127.0.0.1", self._port)
        self.client.loop_start()
        self.wait_for(lambda: self.code is not None or self.is_gone)
        return self.code

    def subscribe(self, topic: str) -> int:
        self.client.subscribe(topic, 1)
        assert self.wait_for(lambda: bool(self.granted))
        return self.granted[0]

    def publish(self, topic: str, payload: bytes = b"{}", *, is_retained: bool = False) -> None:
        self.client.publish(topic, payload, 1, is_retained).wait_for_publish(PATIENCE_S)

    def wait_for(self, what: Callable[[], bool], timeout_s: float = PATIENCE_S) -> bool:
        with self._changed:
            return self._changed.wait_for(what, timeout_s)

    def close(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()

    def _on_message(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        with self._changed:
            self.heard.append((message.topic, bytes(message.payload)))
            self._changed.notify_all()

    def _set(self, **values: object) -> None:
        with self._changed:
            for name, value in values.items():
                setattr(self, name, value)
            self._changed.notify_all()


Call = Callable[..., Caller]


@pytest.fixture
def call(broker: EmbeddedBroker) -> Iterator[Call]:
    callers: list[Caller] = []

    def make(user: str | None, password: str = "", name: str = "a") -> Caller:
        callers.append(Caller(broker, user, password, name))
        return callers[-1]

    yield make
    for caller in callers:
        caller.close()


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.2", "::1", "localhost"])
def test_the_server_itself_gets_in_wherever_the_broker_listens(
    host: str, credentials: Credentials
) -> None:
    broker = EmbeddedBroker(BrokerPlace(host=host, port=0), None, credentials)
    broker.start()
    try:
        with socket.create_connection((INNER_HOST, broker.inner_port), PATIENCE_S):
            pass
        with socket.create_connection((host, broker.port), PATIENCE_S):
            pass
    finally:
        broker.stop()


def test_it_ends_at_once_while_a_bench_talks_on_and_on(
    broker: EmbeddedBroker, call: Call, credentials: Credentials
) -> None:
    server = call("server", broker.password)
    bench = call("north/bay-1", credentials.enrol(BAY_1))
    server.connect()
    assert server.subscribe("drainscale/+/+/+") == 1
    bench.connect()
    is_over = threading.Event()

    def talk() -> None:
        while not is_over.wait(0.001):
            bench.client.publish(BAY_1.topic("samples"), b"x" * 500, 1)

    talking = threading.Thread(target=talk, daemon=True)
    talking.start()
    try:
        assert server.wait_for(lambda: len(server.heard) > 50)
        began_s = time.monotonic()
        broker.stop()
        took_s = time.monotonic() - began_s
    finally:
        is_over.set()
        talking.join(PATIENCE_S)
    assert not broker.is_alive
    assert took_s < STOP_S / 2.0


def test_the_package_is_the_one_that_was_extended() -> None:
    # its private methods are ours to redefine only as long as they are these
    assert version("amqtt") == TESTED_VERSION


def test_nobody_comes_in_without_name_and_password(
    call: Call, credentials: Credentials, broker: EmbeddedBroker
) -> None:
    password = credentials.enrol(BAY_1)
    assert call("north/bay-1", password, "good").connect() == 0
    # MQTT 3.1.1, 3.2.2.3: code 5, not authorised; paho tells it by its number in MQTT 5
    for user, wrong in ((None, ""), ("north/bay-1", "guess"), ("north/bay-2", password),
                        ("server", "guess")):  # fmt: skip
        assert call(user, wrong, "bad").connect() not in (None, 0), user


def test_a_bench_is_heard_by_the_server_and_by_nobody_else(
    call: Call, credentials: Credentials, broker: EmbeddedBroker
) -> None:
    server = call("server", broker.password, "s")
    bay_1 = call("north/bay-1", credentials.enrol(BAY_1))
    bay_2 = call("north/bay-2", credentials.enrol(BAY_2))
    assert [one.connect() for one in (server, bay_1, bay_2)] == [0, 0, 0]
    assert server.subscribe("drainscale/+/+/event") == 1
    assert bay_2.subscribe("drainscale/north/bay-1/event") == 128
    bay_1.publish("drainscale/north/bay-1/event", b"mine")
    assert server.wait_for(lambda: len(server.heard) == 1)
    assert server.heard == [("drainscale/north/bay-1/event", b"mine")]
    assert bay_2.heard == []


def test_a_bench_cannot_publish_as_another(
    call: Call, credentials: Credentials, broker: EmbeddedBroker
) -> None:
    server = call("server", broker.password, "s")
    bay_1 = call("north/bay-1", credentials.enrol(BAY_1))
    assert [server.connect(), bay_1.connect()] == [0, 0]
    server.subscribe("drainscale/#")
    bay_1.publish("drainscale/north/bay-2/event", b"forged", is_retained=True)
    bay_1.publish("drainscale/north/bay-1/command", b"forged")
    bay_1.publish("drainscale/north/bay-1/event", b"last")
    assert server.wait_for(lambda: len(server.heard) == 1)
    assert server.heard == [("drainscale/north/bay-1/event", b"last")]


def test_a_last_will_for_another_bench_is_refused(call: Call, credentials: Credentials) -> None:
    bay_1 = call("north/bay-1", credentials.enrol(BAY_1))
    bay_1.client.will_set("drainscale/north/bay-2/status", b"offline", 1, True)
    assert bay_1.connect() not in (None, 0)


def test_a_stranger_with_a_bench_s_client_id_does_not_cut_it_off(
    call: Call, credentials: Credentials, broker: EmbeddedBroker
) -> None:
    server = call("server", broker.password, "s")
    bay_1 = call("north/bay-1", credentials.enrol(BAY_1), "same")
    bay_2 = call("north/bay-2", credentials.enrol(BAY_2), "same")
    assert [server.connect(), bay_1.connect()] == [0, 0]
    assert bay_1.subscribe("drainscale/north/bay-1/ack") == 1
    assert call(None, "", "same").connect() not in (None, 0)
    assert bay_2.connect() == 0
    server.publish("drainscale/north/bay-1/ack", b"1")
    assert bay_1.wait_for(lambda: len(bay_1.heard) == 1)
    assert not bay_1.is_gone


def test_who_comes_back_is_not_declared_dead_afterwards(
    call: Call, credentials: Credentials, broker: EmbeddedBroker
) -> None:
    server, password = call("server", broker.password, "s"), credentials.enrol(BAY_1)
    first, again = call("north/bay-1", password, "same"), call("north/bay-1", password, "same")
    first.client.will_set("drainscale/north/bay-1/status", b"offline", 1, True)
    assert [server.connect(), first.connect()] == [0, 0]
    server.subscribe("drainscale/north/bay-1/status")
    first.client.publish("drainscale/north/bay-1/status", b"online", 1, True)
    assert server.wait_for(lambda: len(server.heard) == 1)
    assert again.connect() == 0
    assert first.wait_for(lambda: first.is_gone)
    again.publish("drainscale/north/bay-1/status", b"back", is_retained=True)
    assert server.wait_for(lambda: len(server.heard) == 2)
    assert [payload for _, payload in server.heard] == [b"online", b"back"]


def test_a_lost_bench_is_told_by_its_last_will(
    call: Call, credentials: Credentials, broker: EmbeddedBroker
) -> None:
    server, bay_1 = (
        call("server", broker.password, "s"),
        call("north/bay-1", credentials.enrol(BAY_1)),
    )
    bay_1.client.will_set("drainscale/north/bay-1/status", b"offline", 1, True)
    assert [server.connect(), bay_1.connect()] == [0, 0]
    server.subscribe("drainscale/north/bay-1/status")
    found = bay_1.client.socket()
    assert isinstance(found, socket.socket)
    found.shutdown(socket.SHUT_RDWR)
    assert server.wait_for(lambda: [p for _, p in server.heard] == [b"offline"])


def test_a_revoked_bench_is_cut_off_and_stays_out(call: Call, credentials: Credentials) -> None:
    bay_1 = call("north/bay-1", credentials.enrol(BAY_1))
    assert bay_1.connect() == 0
    credentials.revoke(BAY_1)
    assert bay_1.wait_for(lambda: bay_1.is_gone)


@pytest.mark.parametrize(
    "raw",
    [
        b"GET / HTTP/1.1\r\n\r\n",
        bytes(64),
        b"\x10\xff\xff\xff\x7f" + bytes(64),  # a CONNECT of 256 MB
        b"\x10\xff\xff\xff\xff\xff",
        b"\x10\x0c\x00\x04MQTT\x04\xc2\x00\x3c\xff\xff",
        b"\x10\x10\x00\x04MQTT\x04\xc2\x00\x3c\x00\x02\xff\xfe\x00\x00",  # a client id not UTF-8
        b"\x30\x05\x00\x03a/b",  # a PUBLISH first
    ],
)
def test_bytes_that_are_no_mqtt_end_their_connection_only(
    raw: bytes, call: Call, broker: EmbeddedBroker
) -> None:
    with closing(socket.create_connection(("127.0.0.1", broker.port), PATIENCE_S)) as stranger:
        stranger.sendall(raw)
        stranger.shutdown(socket.SHUT_WR)
        while stranger.recv(4096):
            pass
    assert broker.is_alive
    assert call("server", broker.password).connect() == 0


def test_a_port_in_use_is_one_clear_error(credentials: Credentials) -> None:
    with closing(listen("127.0.0.1", 0, "somebody")) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(
            ServerError, match=f"broker: 127.0.0.1, port {port}: address already in"
        ):
            EmbeddedBroker(BrokerPlace(port=port), None, credentials).start()


def test_a_stopped_broker_lets_go_of_its_port(credentials: Credentials) -> None:
    first = EmbeddedBroker(BrokerPlace(port=0), None, credentials)
    first.start()
    first.stop()
    assert not first.is_alive
    again = EmbeddedBroker(BrokerPlace(port=first.port), None, credentials)
    again.start()
    again.stop()


def test_the_server_s_password_is_new_each_time_and_never_on_the_disk(
    credentials: Credentials, tmp_path: Path
) -> None:
    made = [EmbeddedBroker(BrokerPlace(port=0), None, credentials).password for _ in range(2)]
    assert made[0] != made[1]
    assert list(tmp_path.iterdir()) == []
