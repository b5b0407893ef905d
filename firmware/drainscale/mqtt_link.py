"""One connection to an MQTT broker, driven from the caller's own thread; kit and server share it.

The package's own thread would end unseen when a callback raises. Here whoever calls runs the
network and the callbacks; each of these is guarded, so what it raises is logged, counted and over.

paho-mqtt 2: https://eclipse.dev/paho/files/paho.mqtt.python/html/client.html
"""

import logging
import ssl
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import MQTTErrorCode

CONNECT_S = 5.0  # for TCP and TLS, and again until we are told that we are in
_log = logging.getLogger(__name__)


class LinkDownError(Exception):
    """The connection is over, or never came about; says why."""


def trust(client: Client, ca_file: Path | None) -> None:
    """Have a client use TLS, trusting these certificates (PEM) or those of the system."""
    context = ssl.create_default_context(cafile=None if ca_file is None else str(ca_file))
    client.tls_set_context(context)


class MqttLink:
    """One connection; when it is down it stays down.

    Args:
        client: Made by the subclass, not connected yet, and nobody else's.
        topics: What to subscribe to, at QoS 1.
        counters: Where to count what went wrong.
    """

    def __init__(self, client: Client, topics: list[str], counters: Counter[str]) -> None:
        self._client = client
        self._topics = topics
        self._counters = counters
        self._is_ready = False
        self._down: str | None = None
        self._since_s = time.monotonic()
        client.connect_timeout = CONNECT_S
        client.on_connect = self._guarded(self._on_connect)
        client.on_disconnect = self._guarded(self._on_disconnect)
        client.on_subscribe = self._guarded(self._on_subscribe)
        client.on_publish = self._guarded(self._on_publish)
        client.on_message = self._guarded(self._on_message)

    @property
    def is_ready(self) -> bool:
        """Connected, and subscribed: nothing that is said now can be missed."""
        return self._is_ready

    def connect(self, host: str, port: int, keepalive_s: int) -> None:
        """Begin to connect.

        Raises:
            LinkDownError: The broker can't be reached.
        """
        try:
            self._client.connect(host, port, keepalive=keepalive_s)
        except (OSError, ValueError) as error:  # refused, no route, no such name, TLS
            self._release()
            raise LinkDownError(f"{host}:{port}: {error}") from error

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

    def _publish(self, topic: str, payload: bytes, *, qos: int, is_retained: bool) -> int:
        """Hand a message to the network; give what the link calls it."""
        told = self._client.publish(topic, payload, qos=qos, retain=is_retained)
        if told.rc != MQTTErrorCode.MQTT_ERR_SUCCESS:
            raise LinkDownError(f"publish: {told.rc.name}")
        return told.mid

    def _check(self, code: MQTTErrorCode) -> None:
        """Raise if the connection is over, by what was told or by what a call gave back."""
        if self._down is not None:
            raise LinkDownError(self._down)
        if code != MQTTErrorCode.MQTT_ERR_SUCCESS:
            raise LinkDownError(code.name)
        if not self._is_ready and time.monotonic() - self._since_s > CONNECT_S:
            raise LinkDownError(f"no answer for {CONNECT_S:g} s")

    def _release(self) -> None:
        # client and link know each other; apart, both go at once and their sockets with them
        client = self._client
        client.on_connect = client.on_disconnect = client.on_subscribe = None
        client.on_publish = client.on_message = None

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
        """The broker has confirmed a message of ours."""

    def _on_message(self, _client: Client, _data: Any, message: MQTTMessage) -> None:
        """A message came in."""
