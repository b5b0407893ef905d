"""One connection to the broker, from connect to its end, driven from the caller's own thread.

The package's own thread would end unseen when a callback raises. Here ``turn`` runs the network
and the callbacks; each of these is guarded, so what it raises is logged, counted and over.

paho-mqtt 2: https://eclipse.dev/paho/files/paho.mqtt.python/html/client.html
"""

import logging
import ssl
import time
from collections import Counter, deque
from collections.abc import Callable
from typing import Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode

from drainscale.uplink.broker import BrokerSettings

CONNECT_S = 5.0  # for TCP and TLS, and again until we are told that we are in
KEEPALIVE_S = 10  # a broker tells the last will after one and a half of it
UNCONFIRMED_N = 20  # messages at QoS 1 under way to the broker
_log = logging.getLogger(__name__)


class LinkDownError(Exception):
    """The connection is over, or never came about; says why."""


class Link:
    """One connection; when it is down it stays down.

    Args:
        settings: Where the broker is.
        client_id: The same every time, so that the broker drops a half-dead predecessor.
        topics: What to subscribe to, at QoS 1.
        will: Topic and payload that the broker publishes, retained, if we vanish.
        counters: Where to count what went wrong.
    """

    def __init__(
        self,
        settings: BrokerSettings,
        client_id: str,
        topics: list[str],
        will: tuple[str, bytes],
        counters: Counter[str],
    ) -> None:
        self._topics = topics
        self._counters = counters
        self._received: deque[tuple[str, bytes]] = deque()
        self._unconfirmed: set[int] = set()
        self._is_ready = False
        self._down: str | None = None
        self._client = self._new_client(settings, client_id, will)
        self._since_s = time.monotonic()
        try:
            self._client.connect(settings.host, settings.port, keepalive=KEEPALIVE_S)
        except (OSError, ValueError) as error:  # refused, no route, no such name, TLS
            raise LinkDownError(f"{settings.host}:{settings.port}: {error}") from error

    @property
    def is_ready(self) -> bool:
        """Connected, and subscribed: nothing that the server says now can be missed."""
        return self._is_ready

    @property
    def room_n(self) -> int:
        """How many more messages at QoS 1 may go out now."""
        return max(0, UNCONFIRMED_N - len(self._unconfirmed)) if self._is_ready else 0

    @property
    def is_all_confirmed(self) -> bool:
        """Whether the broker has confirmed all that went out."""
        return not self._unconfirmed

    def publish(self, topic: str, payload: bytes, *, qos: int, is_retained: bool) -> None:
        """Hand a message to the network.

        Raises:
            LinkDownError: The connection is over.
        """
        told = self._client.publish(topic, payload, qos=qos, retain=is_retained)
        if told.rc != MQTTErrorCode.MQTT_ERR_SUCCESS:
            raise LinkDownError(f"publish: {told.rc.name}")
        if qos:
            self._unconfirmed.add(told.mid)

    def turn(self, timeout_s: float) -> list[tuple[str, bytes]]:
        """Run the network until something happened, or for the time given.

        Returns:
            Topic and payload of what came in.

        Raises:
            LinkDownError: The connection is over.
        """
        code = self._client.loop(timeout_s)
        if self._down is not None:
            raise LinkDownError(self._down)
        if code != MQTTErrorCode.MQTT_ERR_SUCCESS:
            raise LinkDownError(code.name)
        if not self._is_ready and time.monotonic() - self._since_s > CONNECT_S:
            raise LinkDownError(f"no answer for {CONNECT_S:g} s")
        received = list(self._received)
        self._received.clear()
        return received

    def close(self) -> None:
        """Say good-bye and close the socket: the broker then tells no last will."""
        self._client.disconnect()
        # runs the good-bye out and the socket down; what it says does not matter any more
        self._client.loop(0.1)
        self._release()

    def drop(self) -> None:
        """Close the socket without a word, as if the cable had been pulled."""
        sock = self._client.socket()
        if sock is not None:
            sock.close()
        self._release()

    def _release(self) -> None:
        # client and link know each other; apart, both go at once and their sockets with them
        client = self._client
        client.on_connect = client.on_disconnect = client.on_subscribe = None
        client.on_publish = client.on_message = None

    def _new_client(
        self, settings: BrokerSettings, client_id: str, will: tuple[str, bytes]
    ) -> Client:
        client = Client(CallbackAPIVersion.VERSION2, client_id=client_id, clean_session=True)
        client.connect_timeout = CONNECT_S
        client.max_inflight_messages_set(2 * UNCONFIRMED_N)
        client.will_set(will[0], will[1], qos=1, retain=True)
        if settings.user:
            client.username_pw_set(settings.user, settings.password)
        if settings.is_tls:
            ca_file = settings.ca_file
            context = ssl.create_default_context(cafile=str(ca_file) if ca_file else None)
            client.tls_set_context(context)
        client.on_connect = self._guarded(self._on_connect)
        client.on_disconnect = self._guarded(self._on_disconnect)
        client.on_subscribe = self._guarded(self._on_subscribe)
        client.on_publish = self._guarded(self._on_publish)
        client.on_message = self._guarded(self._on_message)
        return client

    def _guarded(self, callback: Callable[..., None]) -> Callable[..., None]:
        def guarded(*told: Any) -> None:
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
        client.subscribe([(topic, 1) for topic in self._topics])

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

    def _on_publish(self, _client: Client, _data: Any, mid: int, _code: Any, _more: Any) -> None:
        self._unconfirmed.discard(mid)

    def _on_message(self, _client: Client, _data: Any, message: MQTTMessage) -> None:
        self._received.append((message.topic, bytes(message.payload)))
