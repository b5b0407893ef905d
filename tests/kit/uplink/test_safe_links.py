"""User, password and TLS, against a Mosquitto that insists on them."""

import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from tests.kit.uplink.brokers import Broker, eventually

from drainscale.uplink.broker import BrokerSettings
from drainscale.uplink.mqtt import MqttUplink, Retry
from drainscale.uplink.spool import Spool


@contextmanager
def uplink_with(spool: Spool, settings: BrokerSettings) -> Iterator[MqttUplink]:
    retry = Retry(first_s=0.02, longest_s=0.1)
    uplink = MqttUplink(spool, settings, now_s=lambda: 0.0, retry=retry)
    uplink.start()
    yield uplink
    uplink.stop()


def test_the_right_password_lets_in(secured: Callable[..., Broker], spool: Spool) -> None:
    settings = BrokerSettings(port=secured().port, user="bay-3", password="right")
    with uplink_with(spool, settings) as uplink:
        assert eventually(lambda: uplink.is_connected)


@pytest.mark.parametrize(("user", "password"), [("bay-3", "wrong"), (None, None)])
def test_a_wrong_password_is_counted_and_tried_again(
    secured: Callable[..., Broker], spool: Spool, user: str | None, password: str | None,
    caplog: pytest.LogCaptureFixture,
) -> None:  # fmt: skip
    settings = BrokerSettings(port=secured().port, user=user, password=password)
    with uplink_with(spool, settings) as uplink:
        assert eventually(lambda: uplink.counters["link-failures"] >= 2)
        assert not uplink.is_connected
        assert uplink.is_alive
    assert "Not authorized" in caplog.text
    assert "wrong" not in caplog.text


def test_tls_with_the_shop_s_own_certificate_lets_in(
    secured: Callable[..., Broker], spool: Spool, certificate: tuple[Path, Path]
) -> None:
    cert, key = certificate
    broker = secured(f"certfile {cert}", f"keyfile {key}")
    settings = BrokerSettings("localhost", broker.port, "bay-3", "right", True, cert)
    with uplink_with(spool, settings) as uplink:
        assert eventually(lambda: uplink.is_connected)


# the package leaves the socket of a failed handshake to the garbage collection
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_tls_with_a_certificate_that_nobody_vouches_for_is_refused(
    secured: Callable[..., Broker], spool: Spool, certificate: tuple[Path, Path],
    caplog: pytest.LogCaptureFixture,
) -> None:  # fmt: skip
    cert, key = certificate
    broker = secured(f"certfile {cert}", f"keyfile {key}")
    settings = BrokerSettings("localhost", broker.port, "bay-3", "right", True)
    with uplink_with(spool, settings) as uplink:
        assert eventually(lambda: uplink.counters["link-failures"] >= 1)
        assert not uplink.is_connected
    assert "CERTIFICATE_VERIFY_FAILED" in caplog.text
    caplog.clear()
    gc.collect()
