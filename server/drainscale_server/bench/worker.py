"""The receiving process; ends with its input.

    python -m drainscale_server.bench.worker WAY FOLDER MESSAGES [PORT]

WAY is ``intake`` (ours), ``plain`` (a subscriber that inserts and commits each message by itself,
with the same settings of the database) or ``embedded`` (ours, with the broker in the same process
as in ``drainscale server``). Says ``ready`` with port, user and password to publish with, then
``stored`` with the monotonic clock and the processor time a message when it has them all.
"""

import json
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from drainscale_server.bench.publisher import BENCH
from drainscale_server.broker.credentials import Credentials, user_of
from drainscale_server.broker.embedded import EmbeddedBroker
from drainscale_server.broker.rights import SERVER
from drainscale_server.ingest.connection import TOPICS, BrokerAccess
from drainscale_server.ingest.intake import Intake
from drainscale_server.ingest.listeners import Stored
from drainscale_server.settings.server_file import BrokerPlace
from drainscale_server.store.file import connect
from drainscale_server.store.store import Store


class Count:
    """Says when all messages are stored."""

    def __init__(self, n: int) -> None:
        self._n = n
        self._stored_n = 0
        self._before_s = time.process_time()

    def add(self, n: int) -> None:
        """So many more are on the disk."""
        self._stored_n += n
        if self._stored_n == self._n:
            each_us = 1e6 * (time.process_time() - self._before_s) / self._n
            _say("stored", time.monotonic(), each_us)


def run_intake(folder: Path, n: int, port: int) -> Callable[[], None]:
    """Run ours; give back how it ends."""
    return _run_intake(folder, n, BrokerAccess(port=port), ("ready", port))


def run_embedded(folder: Path, n: int, _port: int) -> Callable[[], None]:
    """Run ours with the broker in the same process."""
    credentials = Credentials(folder)
    password = credentials.enrol(BENCH)
    broker = EmbeddedBroker(BrokerPlace(port=0), None, credentials)
    broker.start()
    access = BrokerAccess(port=broker.inner_port, user=SERVER, password=broker.password)
    stop = _run_intake(folder, n, access, ("ready", broker.port, user_of(BENCH), password))

    def stop_both() -> None:
        stop()
        broker.stop()

    return stop_both


def _run_intake(
    folder: Path, n: int, access: BrokerAccess, ready: tuple[object, ...]
) -> Callable[[], None]:
    store = Store(folder / "store.sqlite")
    count = Count(n)

    def on_stored(stored: list[Stored]) -> None:
        count.add(len(stored))

    intake = Intake(store, access)
    intake.listeners.stored.append(on_stored)
    intake.listeners.connected.append(lambda: _say(*ready))
    intake.start()

    def stop() -> None:
        intake.stop()
        store.close()

    return stop


def run_plain(folder: Path, n: int, port: int) -> Callable[[], None]:
    """Run the plain way: a commit a message."""
    db = connect(folder / "plain.sqlite", is_reader=False)
    db.execute("CREATE TABLE message (boot TEXT, seq INT, payload BLOB, PRIMARY KEY (boot, seq))")
    count = Count(n)

    def on_message(_client: Client, _data: Any, message: Any) -> None:
        said = {record["n"]: record for record in json.loads(message.payload) if "n" in record}
        row = (said["boot"]["vs"], said["seq"]["v"], message.payload)
        db.execute("INSERT OR IGNORE INTO message VALUES (?, ?, ?)", row)  # commits by itself
        count.add(1)

    client = Client(CallbackAPIVersion.VERSION2, client_id="plain")
    client.on_message = on_message
    client.on_subscribe = lambda *_: _say("ready", port)
    client.connect("127.0.0.1", port)
    client.subscribe(TOPICS, 1)
    client.loop_start()

    def stop() -> None:
        client.disconnect()
        client.loop_stop()
        db.close()

    return stop


WAYS = {"intake": run_intake, "plain": run_plain, "embedded": run_embedded}


def main() -> None:
    """Run the process."""
    way, folder, n, port = sys.argv[1], Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4])
    stop = WAYS[way](folder, n, port)
    sys.stdin.read()
    stop()


def _say(*what: object) -> None:
    sys.stdout.write(" ".join(map(str, what)) + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
