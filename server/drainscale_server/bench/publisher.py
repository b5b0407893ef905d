"""The sending process: a bench that says all it has as fast as the broker takes it.

    python -m drainscale_server.bench.publisher PORT MESSAGES [USER PASSWORD]

Says ``ready``; waits for a line; says ``began`` when the first message goes out and
``acknowledged`` when the server has them all (the plain way never says so), each with the monotonic
clock that all processes of a machine share. Ends with its input.
"""

import select
import sys
import time
from typing import Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode

from drainscale.messages.codec import decode, encode
from drainscale.messages.records import Envelope, Samples
from drainscale.messages.telegrams import Ack
from drainscale.messages.topics import BenchId
from drainscale.quantities.samples import ScaleCount

BENCH = BenchId("north", "bay-3")
SAMPLES_N = 10  # in a message
UNCONFIRMED_N = 500


def payloads(n: int) -> list[bytes]:
    """Make the messages of a job: a scale at ten samples a second, a message each second."""
    return [_payload(seq) for seq in range(1, n + 1)]


def _payload(seq: int) -> bytes:
    samples = tuple(
        ScaleCount(round(seq + place / SAMPLES_N, 6), 208_512 + 37 * seq + place)
        for place in range(SAMPLES_N)
    )
    body = Samples(base_time_s=1_790_176_804.0, is_clock_set=True, samples=samples)
    site, bench = BENCH.site, BENCH.bench
    return encode(Envelope(site=site, bench=bench, boot="b1", seq=seq, job="j-1", body=body))


class Publisher:
    """Publishes with a window; the network runs in the same thread, which is the quicker way.

    Args:
        n: How many messages there are.
    """

    def __init__(self, n: int) -> None:
        self._n = n
        self._confirmed_n = 0
        self._is_ready = False
        self._is_acknowledged = False
        self._client = Client(CallbackAPIVersion.VERSION2, client_id="bench-publisher")
        self._client.max_inflight_messages_set(2 * UNCONFIRMED_N)
        self._client.on_subscribe = self._on_subscribe
        self._client.on_publish = self._on_publish
        self._client.on_message = self._on_message

    def connect(self, port: int, access: list[str]) -> None:
        """Connect, with user and password if there are any, and wait until we are subscribed."""
        if access:
            self._client.username_pw_set(access[0], access[1])
        self._client.connect("127.0.0.1", port)
        self._client.subscribe(BENCH.topic("ack"), 1)
        while not self._is_ready:
            self._turn(1.0)

    def publish(self, messages: list[bytes]) -> None:
        """Publish all, as fast as the broker confirms them."""
        topic = BENCH.topic("samples")
        for sent_n, payload in enumerate(messages):
            while sent_n - self._confirmed_n >= UNCONFIRMED_N:
                self._turn(1.0)
            self._client.publish(topic, payload, qos=1)

    def listen(self) -> None:
        """Wait for the acknowledgement, or for the end of the input."""
        while not select.select([sys.stdin], [], [], 0)[0]:
            self._turn(0.1)

    def close(self) -> None:
        """Say good-bye."""
        self._client.disconnect()
        self._client.loop(0.1)

    def _turn(self, timeout_s: float) -> None:
        code = self._client.loop(timeout_s)
        if code != MQTTErrorCode.MQTT_ERR_SUCCESS:
            raise RuntimeError(f"the broker is gone: {code.name}")

    def _on_subscribe(self, *_: Any) -> None:
        self._is_ready = True

    def _on_publish(self, *_: Any) -> None:
        self._confirmed_n += 1

    def _on_message(self, _client: Client, _data: Any, message: MQTTMessage) -> None:
        ack = decode(message.topic, bytes(message.payload))
        if isinstance(ack, Ack) and ack.through == self._n and not self._is_acknowledged:
            self._is_acknowledged = True
            _say("acknowledged")


def main() -> None:
    """Run the process."""
    port, n = int(sys.argv[1]), int(sys.argv[2])
    messages = payloads(n)
    publisher = Publisher(n)
    publisher.connect(port, sys.argv[3:])
    _say("ready")
    sys.stdin.readline()
    _say("began")
    publisher.publish(messages)
    publisher.listen()
    publisher.close()


def _say(what: str) -> None:
    sys.stdout.write(f"{what} {time.monotonic()}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
