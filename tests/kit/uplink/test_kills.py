"""A writer that is killed at any moment, and a log that is torn: nothing committed is lost.

More rounds than the suite takes by itself: ``KILL_ROUNDS=200 TEAR_ROUNDS=900``.
"""

import os
import random
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from tests.kit.uplink.brokers import Broker, StoringServer
from tests.kit.uplink.made_up import BAY_3, OPENED, samples_of
from tests.torn_logs import TEARS, torn

from drainscale.messages.codec import decode
from drainscale.messages.records import Envelope, Samples
from drainscale.uplink.batches import Entry, RunningJob, pack_of
from drainscale.uplink.broker import BrokerSettings
from drainscale.uplink.mqtt import MqttUplink, Retry
from drainscale.uplink.spool import Spool

ROOT = Path(__file__).parents[3]
KILL_ROUNDS = int(os.environ.get("KILL_ROUNDS", "8"))
TEAR_ROUNDS = int(os.environ.get("TEAR_ROUNDS", "45"))
RUNNING = RunningJob("j-1", OPENED)


def killed_writer(
    path: Path, lines_n: int, delay_turns: int, port: int | None = None
) -> tuple[str, int, int]:
    """Let a writer commit some times, kill it some moments later; what it said was safe."""
    command = [sys.executable, "-m", "tests.kit.uplink.steady_writer", str(path)]
    command += [str(port)] if port else []
    with subprocess.Popen(command, stdout=subprocess.PIPE, cwd=ROOT) as process:
        assert process.stdout is not None
        told = [process.stdout.readline() for _ in range(lines_n)]
        for _ in range(delay_turns):  # some microseconds: into the middle of the next commit
            pass
        process.kill()
        told += process.stdout.readlines()  # what it said before it died
    boot, last, safe_n = [line for line in told if line.endswith(b"\n")][-1].decode().split()
    return boot, int(last), int(safe_n)


def stored_numbers(spool: Spool, boot: str, last: int) -> list[int]:
    numbers = []
    for stored in spool.messages(boot, 1, last):
        message = decode(BAY_3.topic(stored.leaf), stored.payload)
        assert isinstance(message, Envelope)
        assert (message.boot, message.seq) == (boot, stored.seq)
        numbers.append(stored.seq)
    return numbers


def test_nothing_committed_is_lost_to_a_kill_and_no_number_is_used_twice(tmp_path: Path) -> None:
    chance = random.Random(20261125)
    path = tmp_path / "spool.sqlite"
    safe_n = 0
    boots: set[str] = set()
    for _ in range(KILL_ROUNDS):
        boot, last, told_n = killed_writer(path, chance.randint(1, 6), chance.randint(0, 60_000))
        spool = Spool(path, BAY_3)
        assert spool.faults == ()
        samples = list(spool.samples("j-1"))
        assert samples == samples_of(0, len(samples))  # an unbroken prefix
        safe_n = max(safe_n, told_n)
        assert len(samples) >= safe_n
        assert next(one.last for one in spool.standings() if one.boot == boot) >= last
        assert boot not in boots
        boots.add(boot)
        for one in spool.standings():
            assert stored_numbers(spool, one.boot, one.last) == list(range(1, one.last + 1))
        spool.close()


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a spool as a power cut leaves it: half of it in the log only."""
    folder = tmp_path_factory.mktemp("whole")
    spool = Spool(folder / "live", BAY_3, boot="b1")
    spool.append([Entry("j-1", OPENED)])
    for first in range(0, 2000, 50):
        if first == 1000:
            spool._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        spool.append([Entry("j-1", pack_of(RUNNING, samples_of(first, 50)))])
    for tail in ("", "-wal"):
        shutil.copy(folder / f"live{tail}", folder / f"torn{tail}")
    spool.close()
    return folder / "torn"


@pytest.mark.parametrize("how", TEARS)
def test_a_torn_log_leaves_an_unbroken_prefix(whole: Path, tmp_path: Path, how: str) -> None:
    chance = random.Random(how)
    lengths = set()
    for _ in range(TEAR_ROUNDS // 3):
        spool = Spool(torn(whole, tmp_path / "spool.sqlite", how, chance), BAY_3, boot="b2")
        assert spool.faults == ()
        samples = list(spool.samples("j-1"))
        assert samples == samples_of(0, len(samples))
        assert 1000 <= len(samples) <= 2000  # what was in the file itself is there
        last = next(one.last for one in spool.standings() if one.boot == "b1")
        assert stored_numbers(spool, "b1", last) == list(range(1, len(samples) // 50 + 2))
        lengths.add(len(samples))
        spool.close()
    assert len(lengths) > 3  # the tears did reach the log


def test_an_untouched_log_gives_all_of_it(whole: Path, tmp_path: Path) -> None:
    path = tmp_path / "spool.sqlite"
    shutil.copy(whole, path)
    shutil.copy(whole.with_name("torn-wal"), tmp_path / "spool.sqlite-wal")
    spool = Spool(path, BAY_3, boot="b2")
    assert list(spool.samples("j-1")) == samples_of(0, 2000)
    spool.close()


def test_kit_and_broker_killed_in_turn_lose_nothing_on_the_way_to_the_server(
    a_mosquitto: Broker, tmp_path: Path
) -> None:
    chance = random.Random(7)
    path = tmp_path / "spool.sqlite"
    server = StoringServer(a_mosquitto.port)
    server.connect()
    for turn in range(5):
        killed_writer(path, chance.randint(20, 60), chance.randint(0, 60_000), a_mosquitto.port)
        if turn % 2:
            a_mosquitto.kill()
            a_mosquitto.start()
            server.connect()
    spool = Spool(path, BAY_3)
    settings = BrokerSettings(port=a_mosquitto.port)
    uplink = MqttUplink(spool, settings, now_s=lambda: 0.0, retry=Retry(0.02, 0.1))
    uplink.start()
    left = spool.standings()
    assert server.wait_for(lambda: all(server.through(one.boot) == one.last for one in left))
    uplink.stop()
    server.disconnect()
    assert server.failures == []
    bodies = [server.stored[one.boot][seq].body for one in left for seq in range(1, one.last + 1)]
    arrived = [s for body in bodies if isinstance(body, Samples) for s in body.samples]
    assert arrived == list(spool.samples("j-1")) == samples_of(0, len(arrived))
    assert len(server.stored) == 5
    spool.close()
