"""User, password and TLS, against a Mosquitto that insists on them."""

import gc
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from tests.kit.uplink.brokers import Broker, eventually, find_mosquitto, find_tool, mosquitto

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
