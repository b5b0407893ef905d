"""The command: enrolment, refusals, and the whole server as a process."""

import re
import signal
import socket
import stat
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import httpx2
import pytest
from tests.kit.messages.examples import JOB
from tests.server.servers import PATIENCE_S, ServerProcess

from drainscale.agent.bench_file import read_bench
from drainscale.cli import main as drainscale
from drainscale.messages.topics import BenchId
from drainscale.recording.job_file import job_text
from drainscale_server.broker.credentials import Credentials

BAY_1 = BenchId("north", "bay-1")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "data"


@pytest.fixture
def server(folder: Path) -> Iterator[ServerProcess]:
    process = ServerProcess(folder)
    yield process
    process.stop()


def call(*argv: str) -> int:
    return drainscale(["server", *argv])


def test_enrolling_says_the_password_once_and_what_the_bench_file_needs(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert call("--folder", str(folder), "--enrol", "north/bay-1") == 0
    told = capsys.readouterr().out
    password = re.search(r"shown this once: (\S+)", told)
    assert password
    assert Credentials(folder).is_bench("north/bay-1", password[1])
    assert 'username = "north/bay-1"' in told
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700


def test_a_password_file_is_for_its_owner_and_what_is_printed_makes_a_bench_file(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    secret = tmp_path / "bay-1.password"
    options = ["--folder", str(folder), "--enrol", "north/bay-1", "--password-file", str(secret)]
    assert call(*options) == 0
    told = capsys.readouterr().out
    password = secret.read_text().strip()
    assert stat.S_IMODE(secret.stat().st_mode) == 0o600
    assert password not in told
    assert Credentials(folder).is_bench("north/bay-1", password)
    bench_part = job_text(JOB).partition("[scale]")[2]
    names = '[bench]\nsite = "north"\nbench = "bay-1"\n[spool]\nfolder = "s"\n'
    uplink = told[told.index("[uplink]") :]
    (tmp_path / "bench.toml").write_text(f"{names}[scale]{bench_part}{uplink}")
    target = read_bench(tmp_path / "bench.toml").uplink
    assert target is not None
    assert (target.username, target.password_file) == ("north/bay-1", str(secret))
    assert call(*options) == 2  # it is there already: nothing is overwritten, nothing changed
    assert Credentials(folder).is_bench("north/bay-1", password)


def test_a_bench_elsewhere_is_told_the_server_s_name_and_that_it_needs_a_certificate(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    config = tmp_path / "server.toml"
    config.write_text(
        '[web]\nnames = ["bay.shop.example"]\n[broker]\nhost = "0.0.0.0"\nport = 8883\n'
        '[tls]\ncertificate_file = "c.pem"\nkey_file = "k.pem"\n'
    )
    assert call("--config", str(config), "--folder", str(folder), "--enrol", "north/bay-1") == 0
    told = capsys.readouterr().out
    assert '[uplink]\nhost = "bay.shop.example"\nport = 8883\n' in told
    assert "\nca_file = " in told


def test_a_new_password_and_a_revoked_bench(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert call("--folder", str(folder), "--new-password") == 0
    password = capsys.readouterr().out.split()[-1]
    assert Credentials(folder).is_web(password)
    Credentials(folder).enrol(BAY_1)
    assert call("--folder", str(folder), "--revoke", "north/bay-1") == 0
    assert Credentials(folder).benches() == set()
    assert call("--folder", str(folder), "--revoke", "north/bay-1") == 2


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        (["--enrol", "bay-1"], "SITE/BENCH expected"),
        (["--enrol", "north/Bay"], "1 to 32 of a-z"),
        (["--port", "70000"], "--port 70000: 0 (any free port) to 65535"),
        (["--config", "none.toml"], "none.toml: no such file"),
        (["--host", "192.0.2.7"], "[web] host = '192.0.2.7' is not this machine: needs [tls]"),
    ],
)
def test_what_is_wrong_is_one_line_and_status_2(
    argv: list[str], said: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert call("--folder", str(folder), *argv) == 2
    told = capsys.readouterr().err
    assert said in told
    assert told.count("\n") == 1


def test_an_outside_broker_enrols_nobody_here(tmp_path: Path, folder: Path) -> None:
    config = tmp_path / "server.toml"
    config.write_text('[broker]\nway = "outside"\n')
    options = ["--config", str(config), "--folder", str(folder)]
    assert call(*options, "--enrol", "north/bay-1") == 2


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ('ca_file = "none.pem"', "none.pem: no such file"),
        ('ca_file = "server.toml"', "server.toml: "),  # no certificate in it
        ('password_file = "none"', "none: no such file"),
        ("port = 0", "an outside broker has a port of its own"),
    ],
)
def test_what_is_wrong_with_an_outside_broker_stops_the_start(
    more: str,
    said: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("server.toml").write_text(f'[web]\nport = 0\n[broker]\nway = "outside"\n{more}\n')
    assert call("--config", "server.toml", "--folder", "data") == 2
    told = capsys.readouterr().err
    assert told.startswith(f"drainscale: {said}")
    assert told.count("\n") == 1


def test_a_port_in_use_is_one_line_and_status_1(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with closing(socket.create_server(("127.0.0.1", 0))) as taken:
        port = str(taken.getsockname()[1])
        for option, what in (("--port", "pages"), ("--broker-port", "broker")):
            ports = {"--port": "0", "--broker-port": "0"} | {option: port}
            argv = [word for pair in ports.items() for word in pair]
            assert call("--folder", str(folder), *argv) == 1
            told = capsys.readouterr().err
            assert f"{what}: 127.0.0.1, port {port}: address already in use" in told


def test_it_says_where_it_is_serves_and_ends_well(server: ServerProcess, folder: Path) -> None:
    server.start()
    ready = httpx2.get(server.url + "readyz", timeout=PATIENCE_S)
    assert ready.json()["store"] == "ok"
    with httpx2.stream("GET", server.url + "healthz", timeout=PATIENCE_S) as alive:
        assert alive.status_code == 200
    Credentials(folder).enrol(BAY_1)
    with httpx2.stream(
        "GET", f"{server.url}api/v1/benches/north/bay-1/feed", timeout=PATIENCE_S
    ) as feed:
        lines = feed.iter_lines()
        assert next(lines).startswith("retry: ")
        # a stream that is open keeps nobody from ending
        assert server.stop() == 0
    assert "Traceback" not in server.log()


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_it_ends_by_either_signal_and_comes_back_on_the_same_ports(
    number: signal.Signals, server: ServerProcess
) -> None:
    server.start()
    ports = server.port, server.broker_port
    assert server.stop(number) == 0
    server.start(*ports)
    assert (server.port, server.broker_port) == ports


def test_after_a_kill_it_comes_back_on_the_same_ports_and_data(server: ServerProcess) -> None:
    server.start()
    ports = server.port, server.broker_port
    server.kill()
    server.start(*ports)
    assert httpx2.get(server.url + "healthz", timeout=PATIENCE_S).status_code == 200


def test_a_second_server_on_the_same_data_is_refused(
    server: ServerProcess, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    server.start()
    assert call("--folder", str(folder), "--port", "0", "--broker-port", "0") == 1
    assert "in use by another server" in capsys.readouterr().err
