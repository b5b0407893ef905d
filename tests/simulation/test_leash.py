"""Processes on a leash end with whoever started them, however that one ends."""

import os
import subprocess
import sys
import time
from pathlib import Path

PATIENCE_S = 60.0  # a bound; each wait ends much earlier
STARTS_A_WORLD = """
import sys
from pathlib import Path
from drainscale_sim.closed_loop.processes import Run
with Run("standpipe", 1, Path(sys.argv[1])).world() as world:
    print("there", flush=True)
    sys.stdin.read()
"""


def is_alive(pid: int) -> bool:
    """Whether a process runs; one that has ended and waits for its parent does not."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


def ends(pid: int) -> bool:
    end_s = time.monotonic() + PATIENCE_S
    while is_alive(pid) and time.monotonic() < end_s:
        time.sleep(0.02)  # nothing tells when a process that is not one's own child ends
    return not is_alive(pid)


def children(pid: int) -> list[int]:
    listed = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    return [int(one) for one in listed]


def test_a_world_ends_when_its_starter_is_killed_outright(tmp_path: Path) -> None:
    starter = subprocess.Popen(
        [sys.executable, "-c", STARTS_A_WORLD, str(tmp_path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    assert starter.stdout is not None
    assert starter.stdin is not None
    with starter.stdin, starter.stdout:
        assert starter.stdout.readline() == b"there\n"
        (world,) = children(starter.pid)
        starter.kill()
        starter.wait()
    assert ends(world)


def test_a_command_on_the_leash_is_told_to_end_as_by_a_signal() -> None:
    reading, writing = os.pipe()
    command = [sys.executable, "-m", "drainscale_sim.leash", "demo", "--lines", "--speed", "1"]
    with subprocess.Popen(
        [*command, "--recording", "whole-service"], stdin=reading, stdout=subprocess.PIPE
    ) as held:
        os.close(reading)
        assert held.stdout is not None
        held.stdout.readline()
        os.close(writing)
        assert held.wait(PATIENCE_S) == -15
