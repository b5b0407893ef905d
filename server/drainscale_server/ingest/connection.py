"""The server's connection to the broker: batches, confirmed only once they are stored.

A message at QoS 1 is confirmed to the broker when the caller says so, not before: until then the
broker would send it again.
"""

import select
import socket
import ssl
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from drainscale.messages.topics import ROOT
from drainscale.mqtt_link import LinkDownError, MqttLink, trust
from drainscale_server.ingest.reading import Arrived

KEEPALIVE_S = 20
UNCONFIRMED_N = 1000  # of our own messages, under way to the broker
BATCH_N = 500  # messages, or
BATCH_BYTES = 8 * 1024 * 1024
# All leaves, those of newer kits as well: a numbered one that was not heard would be a hole.
TOPICS = f"{ROOT}/+/+/+"


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


class Connection(MqttLink):
    """One connection; when it is down it stays down.

    Args:
        access: Where the broker is.
        client_id: The same every time: the broker drops a half-dead predecessor, and may have
            kept for us what came meanwhile.
        wall_s: The server's clock, s since 1970 UTC.
        counters: Where to count what went wrong.

    Raises:
        LinkDownError: The broker can't be reached.
    """

    def __init__(
        self,
        access: BrokerAccess,
        client_id: str,
        wall_s: Callable[[], float],
        counters: Counter[str],
    ) -> None:
        self._wall_s = wall_s
        self._received: list[Delivery] = []
        self._received_bytes = 0
        self._progress_n = 0
        super().__init__(_new_client(access, client_id), [TOPICS], counters)
        self.connect(access.host, access.port, KEEPALIVE_S)
        self._wake_in, self._wake_out = socket.socketpair()
        self._wake_in.setblocking(False)
        self._wake_out.setblocking(False)

    def wake(self) -> None:
        """End a ``turn`` that waits; from any thread, harmless when the connection is over."""
        with suppress(OSError):  # closed; or full, then it is awake already
            self._wake_in.send(b"w")

    def publish(self, topic: str, payload: bytes, *, is_retained: bool = False) -> None:
        """Hand a message to the network at QoS 1.

        Raises:
            LinkDownError: The connection is over.
        """
        self._publish(topic, payload, qos=1, is_retained=is_retained)

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
            LinkDownError: The connection is over.
        """
        self._wait(timeout_s)
        if self._client.want_write():
            self._check(self._client.loop_write())
        self._read()
        self._check(self._client.loop_misc())
        received, self._received = self._received, []
        self._received_bytes = 0
        return received

    def _wait(self, timeout_s: float) -> None:
        sock = self._client.socket()
        if sock is None:
            raise LinkDownError(self._down or "disconnected")
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

    def _release(self) -> None:
        super()._release()
        if hasattr(self, "_wake_in"):
            self._wake_in.close()
            self._wake_out.close()

    def _on_publish(self, _client: Client, _data: Any, _mid: int, _code: Any, _more: Any) -> None:
        self._progress_n += 1

    def _on_message(self, _client: Client, _data: Any, message: MQTTMessage) -> None:
        self._progress_n += 1
        payload = bytes(message.payload)
        arrived = Arrived(_topic(message), payload, self._wall_s(), message.retain)
        self._received.append(Delivery(arrived, message.mid, message.qos))
        self._received_bytes += len(payload)


def _new_client(access: BrokerAccess, client_id: str) -> Client:
    client = Client(
        CallbackAPIVersion.VERSION2, client_id=client_id, clean_session=False, manual_ack=True
    )
    client.max_inflight_messages_set(UNCONFIRMED_N)
    if access.user:
        client.username_pw_set(access.user, access.password)
    if access.ca_file is not None:
        trust(client, access.ca_file)
    return client


def _topic(message: MQTTMessage) -> str:
    try:
        return message.topic
    except UnicodeDecodeError:  # no topic of ours; it is told from others of its kind at least
        return repr(message._topic)  # noqa: SLF001 - there is no other way to the bytes
