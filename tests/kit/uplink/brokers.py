"""Real brokers on a free loopback port, a cable that can be pulled, and a server that stores."""

import os
import shutil
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from drainscale.messages.codec import Message, decode, encode
from drainscale.messages.records import Envelope
from drainscale.messages.telegrams import Ack, Status
from drainscale.messages.topics import BenchId

PATIENCE_S = 30.0  # a bound for waits that end much earlier


def eventually(what: Callable[[], bool]) -> bool:
    """Wait for something in our own process that tells nobody."""
    end_s = time.monotonic() + PATIENCE_S
    while not what():
        if time.monotonic() > end_s:
            return False
        time.sleep(0.01)
    return True


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def find_tool(name: str) -> str | None:
    # Debian keeps the broker where only root's path leads
    return shutil.which(name, path=os.environ.get("PATH", "") + ":/usr/sbin:/usr/local/sbin")


def find_mosquitto() -> str | None:
    return find_tool("mosquitto")


class Broker:
    """A broker's process; ``start`` after ``kill`` brings it back without its memory."""

    def __init__(self, command: list[str], port: int) -> None:
        self.port = port
        self._command = command
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        quiet = subprocess.DEVNULL
        self._process = subprocess.Popen(self._command, stdout=quiet, stderr=quiet)
        end_s = time.monotonic() + PATIENCE_S
        while not self._answers():
            assert self._process.poll() is None, "the broker ended at once"
            assert time.monotonic() < end_s, "the broker does not answer"

    def kill(self) -> None:
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
        """Come up, after a broker's restart as well; what is stored stays stored."""
        self.disconnect()
        ready = threading.Event()
        client = Client(CallbackAPIVersion.VERSION2, client_id="storing-server")
        client.on_subscribe = lambda *_: ready.set()
        client.on_message = self._on_message
        client.connect("127.0.0.1", self._port)
        client.subscribe([("drainscale/#", 1)])
        client.loop_start()
        self._client = client
        assert ready.wait(PATIENCE_S)

    def disconnect(self) -> None:
        if self._client is not None:
            self._client.disconnect()
            self._client.loop_stop()
            self._client = None

    def publish(self, topic: str, payload: bytes, *, is_retained: bool = False) -> None:
        assert self._client is not None
        self._client.publish(topic, payload, qos=1, retain=is_retained)

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
            except Exception as error:  # noqa: BLE001 - the test looks at it
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
            assert held[message.seq] == message, "two messages of one number"
        held[message.seq] = message
        if not self.is_mute:
            ack = Ack(boot=message.boot, through=self.through(message.boot))
            client.publish(BenchId(message.site, message.bench).topic("ack"), encode(ack), qos=1)


class Cable:
    """Forwards TCP to the broker until it is cut; a cut cable can be mended."""

    def __init__(self, to_port: int) -> None:
        self._to_port = to_port
        self._sockets: list[socket.socket] = []
        self._threads: list[threading.Thread] = []
        self._lock = threading.Lock()
        self._is_cut = False
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listener.getsockname()[1]
        self._start(self._accept)

    def cut(self) -> None:
        """Break every connection at once, and every new one, without a word of MQTT."""
        with self._lock:
            self._is_cut = True
            for one in self._sockets:
                _shut(one)
            self._sockets.clear()

    def mend(self) -> None:
        with self._lock:
            self._is_cut = False

    def close(self) -> None:
        self.cut()
        _shut(self._listener)
        for thread in self._threads:
            thread.join(PATIENCE_S)

    def _accept(self) -> None:
        while True:
            try:
                near, _ = self._listener.accept()
            except OSError:
                return
            with self._lock:
                if self._is_cut:
                    near.close()
                    continue
                self._join(near)

    def _join(self, near: socket.socket) -> None:
        try:
            far = socket.create_connection(("127.0.0.1", self._to_port), timeout=PATIENCE_S)
        except OSError:
            near.close()
            return
        far.settimeout(None)
        self._sockets += [near, far]
        self._start(lambda: _pour(near, far))
        self._start(lambda: _pour(far, near))

    def _start(self, work: Callable[[], None]) -> None:
        thread = threading.Thread(target=work, name="cable", daemon=True)
        self._threads.append(thread)
        thread.start()


def _pour(source: socket.socket, sink: socket.socket) -> None:
    with suppress(OSError):
        while data := source.recv(65536):
            sink.sendall(data)
    _shut(source)
    _shut(sink)


def _shut(one: socket.socket) -> None:
    with suppress(OSError):
        one.shutdown(socket.SHUT_RDWR)
    one.close()


@contextmanager
def running_mosquitto(folder: Path) -> Iterator[Broker]:
    """Run a Mosquitto for a test; without one the test is skipped and says so."""
    if find_mosquitto() is None:
        pytest.skip("no mosquitto here: tools/setup.sh installs it")
    broker = mosquitto(folder)
    broker.start()
    yield broker
    broker.kill()


@contextmanager
def storing_server(port: int) -> Iterator[StoringServer]:
    """Keep a server connected that stores and acknowledges; it must not have failed."""
    server = StoringServer(port)
    server.connect()
    yield server
    server.disconnect()
    assert server.failures == []
