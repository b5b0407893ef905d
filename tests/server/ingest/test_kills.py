"""A server that is killed at any moment of a stream: nothing is missing, nothing is there twice.

More rounds than the suite takes by itself: ``KILL_ROUNDS=200``.
"""

import os
import random
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.kit.uplink.brokers import PATIENCE_S, Broker, eventually
from tests.server.ingest.conftest import Uplinks
from tests.server.made_up import OPENED, payloads_in_spool, sample_at, stored_numbers, through

from drainscale.uplink.spool import Spool
from drainscale.uplink.writer import SpoolWriter
from drainscale_server.store.store import Store

ROOT = Path(__file__).parents[3]
KILL_ROUNDS = int(os.environ.get("KILL_ROUNDS", "5"))


BACKLOG_N = 1000  # messages; the kit waits at so many, or long rounds would end with a day's worth


class Stream:
    """The kit's writer, fed with samples as fast as they are taken in, until it is told to stop."""

    def __init__(self, writer: SpoolWriter, spool: Spool) -> None:
        self._writer = writer
        self._spool = spool
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="stream")
        self._thread.start()

    def stop(self) -> None:
        self._stopping.set()
        self._thread.join(PATIENCE_S)

    def _run(self) -> None:
        self._writer.begin_job("j-1", OPENED)
        number = 0
        while not self._stopping.is_set():
            standing = self._spool.standings()[0]
            if standing.last - standing.through > BACKLOG_N:
                self._stopping.wait(0.01)
                continue
            for _ in range(17):
                self._writer.add(sample_at(number))
                number += 1
            self._writer.flush(PATIENCE_S)


@pytest.fixture
def stream(writer: SpoolWriter, spool: Spool) -> Iterator[Stream]:
    stream = Stream(writer, spool)
    yield stream
    stream.stop()


def killed_intake(path: Path, port: int, commits_n: int, delay_turns: int) -> None:
    """Let a server commit some times, and kill it some moments later."""
    command = [sys.executable, "-m", "tests.server.ingest.steady_intake", str(path), str(port)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, cwd=ROOT) as process:
        assert process.stdout is not None
        for _ in range(commits_n):
            assert process.stdout.readline()
        for _ in range(delay_turns):  # some microseconds: into the middle of the next commit
            pass
        process.kill()


def test_nothing_is_missing_or_there_twice_however_often_the_server_is_killed(
    a_mosquitto: Broker, spool: Spool, stream: Stream, uplink_to: Uplinks, tmp_path: Path
) -> None:
    chance = random.Random(20261125)
    path = tmp_path / "store.sqlite"
    with uplink_to(a_mosquitto.port):
        for turn in range(KILL_ROUNDS):
            killed_intake(path, a_mosquitto.port, chance.randint(1, 8), chance.randint(0, 200_000))
            if turn % 3 == 2:
                a_mosquitto.kill()
                a_mosquitto.start()
            acknowledged = spool.standings()[0].through
            with Store(path) as store:
                assert store.file_faults == ()
                held = stored_numbers(store)
                assert held[:acknowledged] == list(range(1, acknowledged + 1))
                assert through(store) >= acknowledged
        stream.stop()
        finish(path, a_mosquitto.port, spool)
    with Store(path) as store:
        last = spool.standings()[0].last
        assert stored_numbers(store) == list(range(1, last + 1))
        assert [row.payload for row in store.messages("j-1")] == payloads_in_spool(spool)
        assert store.quarantined().rows == []
        counters = store.counters()
    assert counters["stored"] == last
    assert "conflict" not in counters


def finish(path: Path, port: int, spool: Spool) -> None:
    """Let a last server take in what is left."""
    command = [sys.executable, "-m", "tests.server.ingest.steady_intake", str(path), str(port)]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, cwd=ROOT) as process:
        try:
            standing = spool.standings
            assert eventually(lambda: standing()[0].through == standing()[0].last)
        finally:
            process.kill()
