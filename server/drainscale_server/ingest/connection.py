"""One connection to the broker, from connect to its end, driven from the caller's own thread.

The package's own thread would end unseen when a callback raises. Here ``turn`` runs the network
and the callbacks; each of these is guarded, so what it raises is logged, counted and over.

A message at QoS 1 is confirmed to the broker when the caller says so, not before: until then the
broker would send it again.

paho-mqtt 2: https://eclipse.dev/paho/files/paho.mqtt.python/html/client.html
"""

import logging
import select
import socket
import ssl
import time
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode

from drainscale.messages.topics import ROOT
from drainscale_server.ingest.reading import Arrived

CONNECT_S = 5.0  # for TCP and TLS, and again until we are told that we are in
KEEPALIVE_S = 20
UNCONFIRMED_N = 1000  # of our own messages, under way to the broker
BATCH_N = 500  # messages, or
BATCH_BYTES = 8 * 1024 * 1024
# All leaves, those of newer kits as well: a numbered one that was not heard would be a hole.
TOPICS = f"{ROOT}/+/+/+"
_log = logging.getLogger(__name__)


class BrokerGoneError(Exception):
    """The connection is over, or never came about; says why."""


@dataclass(frozen=True, slots=True)
class BrokerAccess:
    """How to reach the broker; what is unsafe was refused by whoever read the settings.

    Attributes:
        ca_file: Certificates to trust, PEM; with one, TLS is used.
    """

    host: str = "127.0.0.1"
    port: int = 1883
    user: str | None = None
    password: str | None = None
    ca_file: Path | None = None

    def __repr__(self) -> str:
        # may end up in a log
        return f"BrokerAccess({self.host}:{self.port}, user={self.user})"


@dataclass(frozen=True, slots=True)
class Delivery:
    """A message, and what the broker calls this delivery of it."""

    arrived: Arrived
    mid: int
    qos: int


class Connection:
    """One connection; when it is down it stays down.

    Args:
        access: Where the broker is.
        client_id: The same every time: the broker drops a half-dead predecessor, and may have
            kept for us what came meanwhile.
        wall_s: The server's clock, s since 1970 UTC.
        counters: Where to count what went wrong.

    Raises:
        BrokerGoneError: It can't be reached.
    """

    def __init__(
        self,
        access: BrokerAccess,
        client_id: str,
        wall_s: Callable[[], float],
        counters: Counter[str],
    ) -> None:
        self._wall_s = wall_s
        self._counters = counters
        self._received: list[Delivery] = []
        self._received_bytes = 0
        self._progress_n = 0
        self._is_ready = False
        self._down: str | None = None
        self._client = self._new_client(access, client_id)
        self._since_s = time.monotonic()
        try:
            self._client.connect(access.host, access.port, keepalive=KEEPALIVE_S)
        except (OSError, ValueError) as error:  # refused, no route, no such name, TLS
            self._release()
            raise BrokerGoneError(f"{access.host}:{access.port}: {error}") from error
        self._wake_in, self._wake_out = socket.socketpair()
        self._wake_in.setblocking(False)
        self._wake_out.setblocking(False)

    @property
    def is_ready(self) -> bool:
        """Connected, and subscribed: nothing that a bench says now can be missed."""
        return self._is_ready

    def wake(self) -> None:
        """End a ``turn`` that waits; from any thread, harmless when the connection is over."""
        with suppress(OSError):  # closed; or full, then it is awake already
            self._wake_in.send(b"w")

    def publish(self, topic: str, payload: bytes, *, is_retained: bool = False) -> None:
        """Hand a message to the network at QoS 1.

        Raises:
            BrokerGoneError: The connection is over.
        """
        told = self._client.publish(topic, payload, qos=1, retain=is_retained)
        if told.rc != MQTTErrorCode.MQTT_ERR_SUCCESS:
            raise BrokerGoneError(f"publish: {told.rc.name}")

    def confirm(self, deliveries: list[Delivery]) -> None:
        """Tell the broker that it need not keep these any more."""
        for one in deliveries:
            if one.qos:
                self._client.ack(one.mid, one.qos)

    def turn(self, timeout_s: float) -> list[Delivery]:
        """Run the network until something happened, or for the time given.

        Returns:
            What came in; at most a batch, the rest stays in the socket.

        Raises:
            BrokerGoneError: The connection is over.
        """
        self._wait(timeout_s)
        if self._client.want_write():
            self._check(self._client.loop_write())
        self._read()
        self._check(self._client.loop_misc())
        if not self._is_ready and time.monotonic() - self._since_s > CONNECT_S:
            raise BrokerGoneError(f"no answer for {CONNECT_S:g} s")
        received, self._received = self._received, []
        self._received_bytes = 0
        return received

    def close(self) -> None:
        """Say good-bye and close the socket."""
        self._client.disconnect()
        self._client.loop(0.1)  # runs the good-bye out and the socket down
        self.drop()

    def drop(self) -> None:
        """Close the socket without a word."""
        sock = self._client.socket()
        if sock is not None:
            sock.close()
        self._wake_in.close()
        self._wake_out.close()
        self._release()

    def _wait(self, timeout_s: float) -> None:
        sock = self._client.socket()
        if sock is None:
            raise BrokerGoneError(self._down or "disconnected")
        poll = select.poll()  # select() itself can't take the sockets of a busy server
        poll.register(sock, select.POLLIN | (select.POLLOUT if self._client.want_write() else 0))
        poll.register(self._wake_out, select.POLLIN)
        has_more = isinstance(sock, ssl.SSLSocket) and sock.pending() > 0
        poll.poll(0 if has_more else timeout_s * 1000.0)
        with suppress(BlockingIOError):
            self._wake_out.recv(4096)

    def _read(self) -> None:
        """Read packets until there is none whole, or a batch is full."""
        while len(self._received) < BATCH_N and self._received_bytes < BATCH_BYTES:
            before_n = self._progress_n
            self._check(self._client.loop_read())
            if self._progress_n == before_n:
                return

    def _check(self, code: MQTTErrorCode) -> None:
        if self._down is not None:
            raise BrokerGoneError(self._down)
        if code != MQTTErrorCode.MQTT_ERR_SUCCESS:
            raise BrokerGoneError(code.name)

    def _release(self) -> None:
        # client and connection know each other; apart, both go at once and their sockets with them
        client = self._client
        client.on_connect = client.on_disconnect = client.on_subscribe = None
        client.on_publish = client.on_message = None

    def _new_client(self, access: BrokerAccess, client_id: str) -> Client:
        client = Client(
            CallbackAPIVersion.VERSION2,
            client_id=client_id,
            clean_session=False,
            manual_ack=True,
        )
        client.connect_timeout = CONNECT_S
        client.max_inflight_messages_set(UNCONFIRMED_N)
        if access.user:
            client.username_pw_set(access.user, access.password)
        if access.ca_file is not None:
            client.tls_set_context(ssl.create_default_context(cafile=str(access.ca_file)))
        client.on_connect = self._guarded(self._on_connect)
        client.on_disconnect = self._guarded(self._on_disconnect)
        client.on_subscribe = self._guarded(self._on_subscribe)
        client.on_publish = self._guarded(self._on_publish)
        client.on_message = self._guarded(self._on_message)
        return client

    def _guarded(self, callback: Callable[..., None]) -> Callable[..., None]:
        def guarded(*told: Any) -> None:
            self._progress_n += 1
            try:
                callback(*told)
            except Exception:  # noqa: BLE001 - seen, counted, and the connection goes on
                _log.exception("in %s", callback.__name__)
                self._counters["callback-failures"] += 1

        return guarded

    def _on_connect(self, client: Client, _data: Any, _flags: Any, code: Any, _more: Any) -> None:
        if code.is_failure:
            self._down = f"refused: {code}"
            return
        client.subscribe(TOPICS, 1)

    def _on_disconnect(self, _client: Client, _data: Any, _flags: Any, code: Any, _m: Any) -> None:
        self._down = self._down or f"disconnected: {code}"

    def _on_subscribe(
        self, _client: Client, _data: Any, _mid: int, codes: list[Any], _more: Any
    ) -> None:
        refused = [str(code) for code in codes if code.is_failure]
        if refused:
            self._down = f"subscribing refused: {refused[0]}"
        else:
            self._is_ready = True

    def _on_publish(self, _client: Client, _data: Any, _mid: int, _code: Any, _more: Any) -> None:
        """Only so that the packet counts as progress."""

    def _on_message(self, _client: Client, _data: Any, message: MQTTMessage) -> None:
        payload = bytes(message.payload)
        arrived = Arrived(_topic(message), payload, self._wall_s(), message.retain)
        self._received.append(Delivery(arrived, message.mid, message.qos))
        self._received_bytes += len(payload)


def _topic(message: MQTTMessage) -> str:
    try:
        return message.topic
    except UnicodeDecodeError:  # no topic of ours; it is told from others of its kind at least
        return repr(message._topic)  # noqa: SLF001 - there is no other way to the bytes
