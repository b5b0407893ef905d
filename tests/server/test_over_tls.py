"""The whole server for others than this machine: TLS and passwords, for pages and for benches."""

import ssl
from collections.abc import Iterator
from pathlib import Path

import httpx2
import pytest
from tests.kit.uplink.brokers import eventually
from tests.kit.uplink.made_up import BAY_3
from tests.server.servers import PATIENCE_S, ServerProcess

from drainscale.uplink.broker import BrokerSettings
from drainscale.uplink.mqtt import MqttUplink, Retry
from drainscale.uplink.spool import Spool
from drainscale_server.broker.credentials import Credentials
from drainscale_server.running import data_folder
from drainscale_server.settings.server_file import DataPlace, Settings

CONFIG = """
[web]
host = "0.0.0.0"
names = ["bay.shop.example"]
[tls]
certificate_file = "{cert}"
key_file = "{key}"
[broker]
host = "0.0.0.0"
"""


@pytest.fixture
def credentials(tmp_path: Path) -> Credentials:
    folder = data_folder(Settings(data=DataPlace(str(tmp_path / "data"))))
    return Credentials(folder)


@pytest.fixture
def server(
    tmp_path: Path,
    credentials: Credentials,
    certificate: tuple[Path, Path],
) -> Iterator[ServerProcess]:
    cert, key = certificate
    config = tmp_path / "server.toml"
    config.write_text(CONFIG.format(cert=cert, key=key))
    process = ServerProcess(tmp_path / "data", "--config", str(config))
    yield process
    process.stop()


def test_pages_and_benches_come_in_by_tls_and_password_only(
    server: ServerProcess,
    credentials: Credentials,
    certificate: tuple[Path, Path],
    spool: Spool,
) -> None:
    web = ("shop", credentials.new_web_password())
    bench = credentials.enrol(BAY_3)
    server.start()
    trusted = ssl.create_default_context(cafile=str(certificate[0]))
    url = f"https://localhost:{server.port}/healthz"
    with httpx2.Client(verify=trusted, timeout=PATIENCE_S) as client:
        assert client.get(url).status_code == 401
        assert client.get(url, auth=web).status_code == 200
        named = client.get(url, auth=web, headers={"host": "bay.shop.example"})
        assert named.status_code == 200
        assert client.get(url, auth=web, headers={"host": "evil.example"}).status_code == 421
    with pytest.raises(httpx2.TransportError):
        httpx2.get(f"http://localhost:{server.port}/healthz", timeout=PATIENCE_S)
    assert connects(spool, server, bench, certificate[0])
    assert not connects(spool, server, "guess", certificate[0])
    assert not connects(spool, server, bench, None)


def connects(spool: Spool, server: ServerProcess, password: str, ca_file: Path | None) -> bool:
    """Tell whether the kit's uplink gets in; it tries for a while where it should not."""
    settings = BrokerSettings(
        "localhost",
        server.broker_port,
        f"{BAY_3.site}/{BAY_3.bench}",
        password,
        is_tls=ca_file is not None,
        ca_file=ca_file,
    )
    uplink = MqttUplink(spool, settings, now_s=lambda: 1.0, retry=Retry(0.02, 0.05))
    uplink.start()
    try:
        assert eventually(lambda: uplink.is_connected or uplink.counters["link-failures"] >= 2)
        return uplink.is_connected
    finally:
        uplink.stop()


def test_without_a_password_it_does_not_start(server: ServerProcess) -> None:
    with pytest.raises(AssertionError, match="needs a password: drainscale server --new-password"):
        server.start()
