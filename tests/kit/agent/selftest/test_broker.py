"""The broker's check against a real one that knows one user."""

import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.kit.uplink.brokers import Broker, find_mosquitto, find_tool, mosquitto

from drainscale.agent.bench_file import UplinkTarget
from drainscale.agent.selftest.findings import Finding
from drainscale.agent.selftest.house import check_broker


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    if find_mosquitto() is None:
        pytest.skip("no mosquitto here: tools/setup.sh installs it")
    users, tool = tmp_path / "users", find_tool("mosquitto_passwd")
    assert tool is not None
    subprocess.run([tool, "-b", "-c", str(users), "bay-1", "right"], check=True)
    users.chmod(0o644)
    started = mosquitto(tmp_path, "allow_anonymous false", f"password_file {users}", "user root")
    started.start()
    yield started
    started.kill()


def found(port: int, tmp_path: Path, password: str | None) -> Finding:
    target = UplinkTarget("127.0.0.1", port)
    if password is not None:
        file = tmp_path / "password"
        file.write_text(password + "\n")
        target = UplinkTarget("127.0.0.1", port, "bay-1", str(file))
    (finding,) = check_broker(target, "selftest")
    return finding


def test_broker_that_lets_the_bench_in_is_reached(broker: Broker, tmp_path: Path) -> None:
    finding = found(broker.port, tmp_path, "right")
    assert (finding.verdict, finding.said) == ("ok", f"127.0.0.1:{broker.port} lets us in")


@pytest.mark.parametrize("password", ["wrong", None])
def test_broker_that_refuses_the_bench_is_a_failure(
    broker: Broker, tmp_path: Path, password: str | None
) -> None:
    finding = found(broker.port, tmp_path, password)
    assert finding.verdict == "FAIL"
    assert "Not authorized" in finding.said


def test_port_where_nobody_listens_is_a_failure(broker: Broker, tmp_path: Path) -> None:
    broker.kill()
    finding = found(broker.port, tmp_path, "right")
    assert finding.verdict == "FAIL"
    assert "refused" in finding.said
    assert "the kit measures and keeps meanwhile" in finding.mend


def test_password_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    target = UplinkTarget("127.0.0.1", 1, "bay-1", str(tmp_path / "nowhere"))
    (finding,) = check_broker(target, "selftest")
    assert finding.verdict == "FAIL"
    assert "nowhere" in finding.said
