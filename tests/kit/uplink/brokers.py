"""A cable to a broker that can be pulled; brokers and server for a test, ended after it."""

import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest

from drainscale_sim.closed_loop.brokers import (
    Broker,
    StoringServer,
    amqtt,
    find_mosquitto,
    find_tool,
    free_port,
    mosquitto,
)

# what stands in the simulation is imported from here by the tests as well
__all__ = [
    "PATIENCE_S", "Broker", "Cable", "StoringServer", "amqtt", "eventually", "find_mosquitto",
    "find_tool", "free_port", "mosquitto", "running_mosquitto", "storing_server",
]  # fmt: skip

PATIENCE_S = 30.0  # a bound for waits that end much earlier


def eventually(what: Callable[[], bool]) -> bool:
    """Wait for something in our own process that tells nobody."""
    end_s = time.monotonic() + PATIENCE_S
    while not what():
        if time.monotonic() > end_s:
            return False
        time.sleep(0.01)
    return True


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
