"""``drainscale bench`` as a process on a machine that is no bench: starts, says so, stops clean."""

import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.kit.agent.benches import BENCH_TOML, ORDER_TOML

from drainscale import cli
from drainscale.agent.program import SPOOL_FILE
from drainscale.messages.topics import BenchId
from drainscale.uplink.spool import Spool

PATIENCE_S = 60.0  # a bound; each wait ends much earlier
no_pins = pytest.mark.skipif(Path("/dev/gpiochip0").exists(), reason="this machine has pins")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    text = BENCH_TOML.replace("/var/lib/drainscale/spool", str(tmp_path / "spool"))
    (tmp_path / "bench.toml").write_text(text)
    (tmp_path / "order.toml").write_text(ORDER_TOML)
    return tmp_path


class Agent:
    """The command in a process of its own."""

    def __init__(self, folder: Path, *more: str) -> None:
        command = [sys.executable, "-u", "-m", "drainscale", "bench", "--config"]
        self.process = subprocess.Popen(
            [*command, str(folder / "bench.toml"), *more],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            cwd=folder,
        )
        self.lines: list[str] = []

    def wait_for(self, what: str) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.lines.append(line.rstrip())
            if what in line:
                return
        pytest.fail(f"no {what!r} in {self.lines}")

    def stop(self, number: signal.Signals) -> int:
        self.process.send_signal(number)
        rest, _ = self.process.communicate(timeout=PATIENCE_S)
        self.lines += rest.splitlines()
        return self.process.returncode


@pytest.fixture
def agents() -> Iterator[list[Agent]]:
    started: list[Agent] = []
    yield started
    for agent in started:
        if agent.process.poll() is None:
            agent.process.kill()
            agent.process.communicate()


def open_job(folder: Path) -> str | None:
    spool = Spool(folder / "spool" / SPOOL_FILE, BenchId("north", "bay-1"))
    running = spool.open_job()
    spool.close()
    return None if running is None else running.job


@no_pins
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_it_stops_clean_at_a_signal_and_the_job_stays_open(
    folder: Path, agents: list[Agent], number: signal.Signals
) -> None:
    agents.append(agent := Agent(folder, "--order", str(folder / "order.toml")))
    agent.wait_for("status step=prepare")
    assert agent.stop(number) == 0
    assert not [line for line in agent.lines if "Traceback" in line]
    assert open_job(folder) is not None


@no_pins
def test_bench_with_nothing_on_it_shows_a_fault_and_outlives_a_kill(
    folder: Path, agents: list[Agent]
) -> None:
    agents.append(first := Agent(folder, "--order", str(folder / "order.toml")))
    first.wait_for("cue=fault reason=sensor-fault")  # 5 s on; the opening was committed after one
    assert first.stop(signal.SIGKILL) == -signal.SIGKILL
    text = "\n".join(first.lines)
    for said in ("dtparam=spi=on", "dtoverlay=w1-gpio", "fault=lamps"):
        assert said in text
    job = open_job(folder)
    assert job is not None
    agents.append(second := Agent(folder))  # without an order
    second.wait_for(f"job={job} resumed")
    assert second.stop(signal.SIGTERM) == 0
    assert open_job(folder) == job


def test_no_order_and_no_job_is_a_wrong_call(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["bench", "--config", str(folder / "bench.toml")]) == 2
    assert "no job is open, and no order" in capsys.readouterr().err


def test_gate_without_an_order_is_refused_where_orders_come_from_the_board(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bench = folder / "bench.toml"
    bench.write_text(bench.read_text() + '\n[uplink]\nhost = "127.0.0.1"\ntakes_orders = true\n')
    assert cli.main(["bench", "--config", str(bench), "--gate", "fill-plug-opens"]) == 2
    assert "--gate answers for the job of an --order" in capsys.readouterr().err
    assert not (folder / "spool").exists()


def test_wrong_order_is_refused_before_the_spool_is_made(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    order = folder / "order.toml"
    order.write_text(ORDER_TOML.replace("allowance_L = 0.5", "allowance_L = 7"))
    asked = ["bench", "--config", str(folder / "bench.toml"), "--order", str(order)]
    assert cli.main(asked) == 2
    assert "line 4: [procedure] allowance_L = 7" in capsys.readouterr().err
    assert not (folder / "spool").exists()
