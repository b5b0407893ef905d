"""Real brokers on a free port of this machine, and a server that stores what benches send."""

import os
import shutil
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from drainscale.messages.codec import Message, decode, encode
from drainscale.messages.records import Envelope
from drainscale.messages.telegrams import Ack, Status
from drainscale.messages.topics import BenchId

PATIENCE_S = 60.0  # a bound for waits that end much earlier


def free_port() -> int:
    """Find a port that nobody listens at."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def find_tool(name: str) -> str | None:
    """Find a program; Debian keeps the broker where only root's path leads."""
    return shutil.which(name, path=os.environ.get("PATH", "") + ":/usr/sbin:/usr/local/sbin")


def find_mosquitto() -> str | None:
    """Find Mosquitto; ``None``: not installed here."""
    return find_tool("mosquitto")


class Broker:
    """A broker's process; ``start`` after ``kill`` brings it back without its memory.

    Args:
        command: What starts it.
        port: Where it listens then.
    """

    def __init__(self, command: list[str], port: int) -> None:
        self.port = port
        self._command = command
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it, and wait until it listens.

        Raises:
            RuntimeError: It ended at once, or does not listen in time.
        """
        quiet = subprocess.DEVNULL
        self._process = subprocess.Popen(self._command, stdout=quiet, stderr=quiet)
        end_s = time.monotonic() + PATIENCE_S
        while not self._answers():
            if self._process.poll() is not None:
                raise RuntimeError("the broker ended at once")
            if time.monotonic() > end_s:
                raise RuntimeError("the broker does not answer")

    def kill(self) -> None:
        """Kill it outright; harmless if it does not run."""
        if self._process is not None:
            self._process.kill()
            self._process.wait(PATIENCE_S)
            self._process = None

    def _answers(self) -> bool:
        try:
            socket.create_connection(("127.0.0.1", self.port), timeout=0.5).close()
        except OSError:
            time.sleep(0.02)  # nothing tells when another process listens
            return False
        return True


def mosquitto(folder: Path, *lines: str) -> Broker:
    """Make a Mosquitto with this configuration; without lines, open to all."""
    port = free_port()
    usual = [f"listener {port} 127.0.0.1", "persistence false", "max_queued_messages 0"]
    config = folder / "mosquitto.conf"
    config.write_text("\n".join([*usual, *(lines or ("allow_anonymous true",))]) + "\n")
    return Broker([find_mosquitto() or "mosquitto", "-c", str(config)], port)


_AMQTT = """
import asyncio, sys
from amqtt.broker import Broker
async def main():
    await Broker({
        "listeners": {"default": {"type": "tcp", "bind": "127.0.0.1:" + sys.argv[1]}},
        "plugins": {"amqtt.plugins.authentication.AnonymousAuthPlugin": {"allow_anonymous": True}},
    }).start()
    await asyncio.Event().wait()
asyncio.run(main())
"""


def amqtt() -> Broker:
    """Make the broker that the shop's server has inside."""
    port = free_port()
    return Broker([sys.executable, "-c", _AMQTT, str(port)], port)


class StoringServer:
    """Stores every numbered message once, as the server does, and acknowledges end to end.

    Attributes:
        stored: Payloads by boot and number.
        repeats_n: How often a message came that was there already.
        others: All other messages, in order.
        failures: What went wrong with a message that came.
        is_mute: Stores, but acknowledges nothing.
    """

    def __init__(self, port: int) -> None:
        self._port = port
        self._changed = threading.Condition()
        self._client: Client | None = None
        self.stored: dict[str, dict[int, Envelope]] = {}
        self.repeats_n = 0
        self.others: list[Message] = []
        self.failures: list[str] = []
        self.is_mute = False

    def connect(self) -> None:
        """Come up, after a broker's restart as well; what is stored stays stored.

        Raises:
            RuntimeError: The broker does not let it subscribe.
        """
        self.disconnect()
        ready = threading.Event()
        client = Client(CallbackAPIVersion.VERSION2, client_id="storing-server")
        client.on_subscribe = lambda *_: ready.set()
        client.on_message = self._on_message
        client.connect("127.0.0.1", self._port)
        client.subscribe([("drainscale/#", 1)])
        client.loop_start()
        self._client = client
        if not ready.wait(PATIENCE_S):
            raise RuntimeError("the storing server could not subscribe")

    def disconnect(self) -> None:
        """Leave the broker; harmless if it is not connected."""
        if self._client is not None:
            self._client.disconnect()
            self._client.loop_stop()
            self._client = None

    def publish(self, topic: str, payload: bytes, *, is_retained: bool = False) -> None:
        """Send something else than an acknowledgement.

        Raises:
            RuntimeError: It is not connected.
        """
        if self._client is None:
            raise RuntimeError("the storing server is not connected")
        self._client.publish(topic, payload, qos=1, retain=is_retained)

    def stored_n(self) -> int:
        """Count what is stored."""
        return sum(len(held) for held in self.stored.values())

    def through(self, boot: str) -> int:
        """Tell up to which number all is there."""
        held = self.stored.get(boot, {})
        number = 0
        while number + 1 in held:
            number += 1
        return number

    def wait_for(self, what: Callable[[], bool], timeout_s: float = PATIENCE_S) -> bool:
        """Wait until something that depends on what came in is so."""
        with self._changed:
            return self._changed.wait_for(what, timeout_s)

    def states(self) -> list[tuple[str, str]]:
        """Give state and reason of every status that came."""
        return [(one.state, one.reason) for one in self.others if isinstance(one, Status)]

    def _on_message(self, client: Client, _data: Any, message: MQTTMessage) -> None:
        with self._changed:
            try:
                self._take(client, message.topic, bytes(message.payload))
            except Exception as error:  # noqa: BLE001 - whoever runs it looks at it
                self.failures.append(repr(error))
            self._changed.notify_all()

    def _take(self, client: Client, topic: str, payload: bytes) -> None:
        leaf = topic.rpartition("/")[2]
        if leaf in ("ack", "command", "job"):
            return
        message = decode(topic, payload)
        if not isinstance(message, Envelope):
            self.others.append(message)
            return
        held = self.stored.setdefault(message.boot, {})
        if message.seq in held:
            self.repeats_n += 1
            if held[message.seq] != message:
                raise ValueError(f"two messages of number {message.seq} of {message.boot}")
        held[message.seq] = message
        if not self.is_mute:
            ack = Ack(boot=message.boot, through=self.through(message.boot))
            client.publish(BenchId(message.site, message.bench).topic("ack"), encode(ack), qos=1)
