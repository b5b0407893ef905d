"""The kit's connection to the broker: a last will, and a window of unconfirmed messages."""

from collections import Counter, deque
from typing import Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from drainscale.mqtt_link import MqttLink, trust
from drainscale.uplink.broker import BrokerSettings

KEEPALIVE_S = 10  # a broker tells the last will after one and a half of it
UNCONFIRMED_N = 20  # messages at QoS 1 under way to the broker


class Link(MqttLink):
    """One connection; when it is down it stays down.

    Args:
        settings: Where the broker is.
        client_id: The same every time, so that the broker drops a half-dead predecessor.
        topics: What to subscribe to, at QoS 1.
        will: Topic and payload that the broker publishes, retained, if we vanish.
        counters: Where to count what went wrong.

    Raises:
        LinkDownError: The broker can't be reached.
    """

    def __init__(
        self,
        settings: BrokerSettings,
        client_id: str,
        topics: list[str],
        will: tuple[str, bytes],
        counters: Counter[str],
    ) -> None:
        self._received: deque[tuple[str, bytes]] = deque()
        self._unconfirmed: set[int] = set()
        super().__init__(_new_client(settings, client_id, will), topics, counters)
        self.connect(settings.host, settings.port, KEEPALIVE_S)

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
        mid = self._publish(topic, payload, qos=qos, is_retained=is_retained)
        if qos:
            self._unconfirmed.add(mid)

    def turn(self, timeout_s: float) -> list[tuple[str, bytes]]:
        """Run the network until something happened, or for the time given.

        Returns:
            Topic and payload of what came in.

        Raises:
            LinkDownError: The connection is over.
        """
        self._check(self._client.loop(timeout_s))
        received = list(self._received)
        self._received.clear()
        return received

    def _on_publish(self, _client: Client, _data: Any, mid: int, _code: Any, _more: Any) -> None:
        self._unconfirmed.discard(mid)

    def _on_message(self, _client: Client, _data: Any, message: MQTTMessage) -> None:
        self._received.append((message.topic, bytes(message.payload)))


def _new_client(settings: BrokerSettings, client_id: str, will: tuple[str, bytes]) -> Client:
    client = Client(CallbackAPIVersion.VERSION2, client_id=client_id, clean_session=True)
    client.max_inflight_messages_set(2 * UNCONFIRMED_N)
    client.will_set(will[0], will[1], qos=1, retain=True)
    if settings.user:
        client.username_pw_set(settings.user, settings.password)
    if settings.is_tls:
        trust(client, settings.ca_file)
    return client
