"""Fixtures of the ingest's tests: an intake on a broker of either kind."""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager

import pytest
from tests.kit.uplink.brokers import PATIENCE_S, Broker, eventually

from drainscale.uplink.broker import BrokerSettings
from drainscale.uplink.mqtt import MqttUplink, Retry
from drainscale.uplink.session import Session
from drainscale.uplink.spool import Spool
from drainscale_server.ingest.connection import BrokerAccess
from drainscale_server.ingest.intake import Intake
from drainscale_server.store.store import Store

Uplinks = Callable[[int], AbstractContextManager[MqttUplink]]
QUICK = Retry(first_s=0.02, longest_s=0.1)
IMPATIENT_S = 0.5  # so soon a bench sends again what nobody acknowledges


@pytest.fixture
def intake(broker: Broker, store: Store) -> Iterator[Intake]:
    """An intake that runs; what it was told to listen for is added by the test."""
    intake = Intake(store, BrokerAccess(port=broker.port), pause_s=0.02)
    intake.start()
    assert eventually(lambda: intake.is_connected)
    yield intake
    assert intake.is_alive
    intake.stop(PATIENCE_S)
    assert not intake.is_alive
    assert intake.counters["callback-failures"] == intake.counters["intake-failures"] == 0


@pytest.fixture
def uplink_to(spool: Spool) -> Uplinks:
    """Make the kit's uplink of this spool to a port of this machine."""

    @contextmanager
    def make(port: int) -> Iterator[MqttUplink]:
        session = Session(patience_s=IMPATIENT_S)
        settings = BrokerSettings(port=port)
        uplink = MqttUplink(spool, settings, now_s=lambda: 12.5, retry=QUICK, session=session)
        uplink.start()
        yield uplink
        uplink.stop(PATIENCE_S)

    return make
