"""User, password and TLS, against a Mosquitto that insists on them."""

from collections.abc import Callable
from pathlib import Path

import pytest
from tests.kit.uplink.brokers import PATIENCE_S, Broker, eventually
from tests.server.made_up import OPENED, samples_of, stored_numbers

from drainscale.uplink.broker import BrokerSettings
from drainscale.uplink.mqtt import MqttUplink
from drainscale.uplink.spool import Spool
from drainscale.uplink.writer import SpoolWriter
from drainscale_server.ingest.connection import BrokerAccess
from drainscale_server.ingest.intake import Intake
from drainscale_server.store.store import Store

Secured = Callable[..., Broker]


def test_a_job_comes_in_over_tls(
    secured: Secured, certificate: tuple[Path, Path], store: Store, spool: Spool,
    writer: SpoolWriter,
) -> None:  # fmt: skip
    cert, key = certificate
    port = secured(f"certfile {cert}", f"keyfile {key}").port
    intake = Intake(store, BrokerAccess("localhost", port, "bay-3", "right", cert))
    settings = BrokerSettings("localhost", port, "bay-3", "right", True, cert)
    uplink = MqttUplink(spool, settings, now_s=lambda: 0.0)
    intake.start()
    assert eventually(lambda: intake.is_connected)
    writer.begin_job("j-1", OPENED)
    for sample in samples_of(0, 3000):
        writer.add(sample)
    assert writer.flush(PATIENCE_S)
    uplink.start()
    last = spool.standings()[0].last
    assert eventually(lambda: spool.standings()[0].through == last)
    uplink.stop(PATIENCE_S)
    intake.stop(PATIENCE_S)
    assert stored_numbers(store) == list(range(1, last + 1))
    assert intake.counters == {"connects": 1}


@pytest.mark.parametrize("password", ["wrong", None])
def test_a_wrong_password_is_told_and_tried_again(
    secured: Secured, store: Store, password: str | None, caplog: pytest.LogCaptureFixture
) -> None:
    user = None if password is None else "bay-3"
    access = BrokerAccess(port=secured().port, user=user, password=password)
    intake = Intake(store, access, pause_s=0.01)
    intake.start()
    assert eventually(lambda: intake.counters["broker-failures"] >= 2)
    assert intake.is_alive
    assert not intake.is_connected
    assert "Not authorized" in (intake.fault or "")
    intake.stop(PATIENCE_S)
    assert "wrong" not in caplog.text
    assert "wrong" not in repr(access)
