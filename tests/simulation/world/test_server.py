"""A world in a process of its own: it answers the same, and outlives who asks."""

import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from drainscale_sim.bench_world import BenchWorld
from drainscale_sim.world.client import WorldClient
from drainscale_sim.world.server import Pace, listen
from drainscale_sim.world.server import main as serve_main
from drainscale_sim.world.wire import Ask, send
from drainscale_sim.world.world import World

STARTS_WITHIN_S = 30.0


def _start(path: Path, *more: str) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "drainscale_sim.world", "--socket", str(path), *more]
    process = subprocess.Popen(command)
    give_up = time.monotonic() + STARTS_WITHIN_S
    while time.monotonic() < give_up:
        assert process.poll() is None, "the world ended at once"
        try:
            WorldClient(path).close()
        except OSError:
            time.sleep(0.02)
        else:
            return process
    process.kill()
    process.wait()
    raise AssertionError(f"no world within {STARTS_WITHIN_S} s")


def _end(process: subprocess.Popen[bytes]) -> int:
    process.send_signal(signal.SIGINT)
    return process.wait(10.0)


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A lockstep world's socket."""
    path = tmp_path_factory.mktemp("world") / "w"
    process = _start(path, "--scenario", "supply-scale", "--seed", "5")
    yield path
    assert _end(process) == 0
    assert not path.exists()


def _told(world: BenchWorld, times_s: list[float]) -> list[object]:
    told: list[object] = []
    for t in times_s:
        told += [world.bridge_counts("drain", t), world.scale_fault("drain", t)]
        told += [world.bridge_counts("supply", t), world.foot_switch_pressed(t)]
        told += [world.pan_skin_C(t), world.board_C(t), world.pan_fault(t), world.now_s()]
    return told


def test_a_served_world_says_what_the_same_world_says_at_hand(served: Path) -> None:
    at_hand = World.of("supply-scale", 5)
    with WorldClient(served) as client:
        at_hand.advance_to(client.now_s())
    times_s = [round(at_hand.now_s() + 0.1 * k, 3) for k in range(1, 100)]
    with WorldClient(served) as client:
        told = _told(client, times_s)
    assert told == _told(at_hand, times_s)


def test_a_world_stands_still_while_nobody_asks_and_goes_on_for_the_next(served: Path) -> None:
    with WorldClient(served) as first:
        first.advance_to(first.now_s() + 5.0)
        stood_s = first.now_s()
    with WorldClient(served) as second:
        assert second.now_s() == stood_s
        second.advance_to(stood_s + 1.0)
        assert second.now_s() == stood_s + 1.0


def test_a_client_that_is_killed_leaves_the_world_alive(served: Path) -> None:
    asks = (
        "import sys, pathlib; from drainscale_sim.world.client import WorldClient\n"
        f"c = WorldClient(pathlib.Path({str(served)!r})); t = c.now_s()\n"
        "print('up', flush=True)\n"
        "while True:\n    t += 0.1; c.bridge_counts('drain', t)\n"
    )
    client = subprocess.Popen([sys.executable, "-c", asks], stdout=subprocess.PIPE)
    assert client.stdout is not None
    assert client.stdout.readline() == b"up\n"
    client.send_signal(signal.SIGKILL)
    client.wait(10.0)
    client.stdout.close()
    with WorldClient(served) as other:
        t = other.now_s()
        other.advance_to(t + 1.0)
        assert other.now_s() == t + 1.0


def test_half_a_question_costs_the_connection_and_nothing_else(served: Path) -> None:
    with socket.socket(socket.AF_UNIX) as link:
        link.connect(str(served))
        link.sendall(b"\x00\x00\x00\x10half")
    with WorldClient(served) as client:
        assert client.now_s() >= 0.0


def test_a_wrong_question_is_told_to_the_one_who_asks(served: Path) -> None:
    with WorldClient(served) as client:
        with pytest.raises(ValueError, match="KeyError: 'weather'"):
            client._ask("weather")
        with pytest.raises(ValueError, match="no snapshot at 99999 s"):
            client.restore(99999.0)
        assert not client.is_over()


def test_a_world_set_back_says_the_same_again(served: Path) -> None:
    with WorldClient(served) as client:
        start_s = float(int(client.now_s()) + 2)
        client.advance_to(start_s)
        times_s = [round(start_s + 0.1 * k, 3) for k in range(1, 30)]
        told = _told(client, times_s)
        assert client.restore(start_s) == start_s
        assert _told(client, times_s) == told


def test_in_real_time_the_world_runs_on_by_itself(tmp_path: Path) -> None:
    path = tmp_path / "w"
    process = _start(path, "--real-time", "50")
    try:
        with WorldClient(path) as client:
            client.advance_to(client.now_s() + 10.0)  # waits
            earlier_s = client.now_s()
        with WorldClient(path) as client:
            while client.now_s() <= earlier_s + 5.0:
                assert process.poll() is None
    finally:
        assert _end(process) == 0


def test_a_question_about_the_future_waits_for_it_in_real_time() -> None:
    pace = Pace(speed=100.0)
    pace.wait_for(20.0)
    assert pace.now_s() >= 20.0


def test_a_second_world_on_the_same_socket_is_refused(
    served: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert serve_main(["--socket", str(served)]) == 2
    assert "a world is there already" in capsys.readouterr().err


def test_a_socket_that_a_dead_world_left_is_taken_over(tmp_path: Path) -> None:
    path = tmp_path / "w"
    listen(path).close()
    assert path.is_socket()
    with listen(path):
        assert path.stat().st_mode & 0o777 == 0o600
        with socket.socket(socket.AF_UNIX) as link:
            link.connect(str(path))
            send(link, Ask("now"))
    path.unlink()


def test_who_stops_in_the_middle_of_a_question_holds_up_nobody_for_long(served: Path) -> None:
    with socket.socket(socket.AF_UNIX) as link, WorldClient(served) as client:
        link.connect(str(served))
        link.sendall(b"\x00\x00\x00\x10half")
        assert client.now_s() >= 0.0
