"""Fixtures of the uplink's tests: a broker of either kind, a server, a spool with its writer."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.kit.uplink.brokers import (
    Broker,
    Cable,
    StoringServer,
    amqtt,
    find_mosquitto,
    mosquitto,
)
from tests.kit.uplink.made_up import BAY_3

from drainscale.uplink.spool import Spool
from drainscale.uplink.writer import SpoolWriter

needs_mosquitto = pytest.mark.skipif(
    find_mosquitto() is None, reason="no mosquitto here: tools/setup.sh installs it"
)


@pytest.fixture
def a_mosquitto(tmp_path: Path) -> Iterator[Broker]:
    if find_mosquitto() is None:
        pytest.skip("no mosquitto here: tools/setup.sh installs it")
    broker = mosquitto(tmp_path)
    broker.start()
    yield broker
    broker.kill()


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
