"""Fixtures of the uplink's tests: a broker of either kind, a server, a spool with its writer."""

import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests.kit.uplink.brokers import (
    Broker,
    Cable,
    StoringServer,
    amqtt,
    find_mosquitto,
    find_tool,
    mosquitto,
    running_mosquitto,
)
from tests.kit.uplink.made_up import BAY_3

from drainscale.uplink.spool import Spool
from drainscale.uplink.writer import SpoolWriter

needs_mosquitto = pytest.mark.skipif(
    find_mosquitto() is None, reason="no mosquitto here: tools/setup.sh installs it"
)


@pytest.fixture
def a_mosquitto(tmp_path: Path) -> Iterator[Broker]:
    with running_mosquitto(tmp_path) as broker:
        yield broker


@pytest.fixture
def secured(tmp_path: Path) -> Iterator[Callable[..., Broker]]:
    """Start a Mosquitto that knows one user, bay-3 with the password right, and more lines."""
    if find_mosquitto() is None:
        pytest.skip("no mosquitto here: tools/setup.sh installs it")
    users = tmp_path / "users"
    tool = find_tool("mosquitto_passwd")
    assert tool is not None
    subprocess.run([tool, "-b", "-c", str(users), "bay-3", "right"], check=True)
    users.chmod(0o644)  # a broker started as root gives its rights up before it reads this
    tmp_path.chmod(0o755)
    started: list[Broker] = []

    def start(*lines: str) -> Broker:
        broker = mosquitto(
            tmp_path, "allow_anonymous false", f"password_file {users}", "user root", *lines
        )
        broker.start()
        started.append(broker)
        return broker

    yield start
    for broker in started:
        broker.kill()


@pytest.fixture
def certificate(tmp_path: Path) -> tuple[Path, Path]:
    """Make a certificate for localhost that vouches for itself, and its key."""
    tool = find_tool("openssl")
    if tool is None:
        pytest.skip("no openssl here")
    cert, key = tmp_path / "cert.pem", tmp_path / "key.pem"
    subprocess.run(
        [tool, "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2",
         "-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost,IP:127.0.0.1",
         "-out", str(cert), "-keyout", str(key)],
        check=True, capture_output=True,
    )  # fmt: skip
    return cert, key


@pytest.fixture
def an_amqtt() -> Iterator[Broker]:
    broker = amqtt()
    broker.start()
    yield broker
    broker.kill()


@pytest.fixture(params=["a_mosquitto", "an_amqtt"])
def broker(request: pytest.FixtureRequest) -> Broker:
    """Either broker; tests with it hold on both."""
    found = request.getfixturevalue(request.param)
    assert isinstance(found, Broker)
    return found


@pytest.fixture
def server(broker: Broker) -> Iterator[StoringServer]:
    server = StoringServer(broker.port)
    server.connect()
    yield server
    server.disconnect()
    assert server.failures == []


@pytest.fixture
def cable(broker: Broker) -> Iterator[Cable]:
    cable = Cable(broker.port)
    yield cable
    cable.close()


@pytest.fixture
def spool(tmp_path: Path) -> Iterator[Spool]:
    spool = Spool(tmp_path / "spool.sqlite", BAY_3, boot="b1")
    yield spool
    spool.close()


@pytest.fixture
def writer(spool: Spool) -> Iterator[SpoolWriter]:
    with SpoolWriter(spool, pause_s=0.05) as writer:
        yield writer
