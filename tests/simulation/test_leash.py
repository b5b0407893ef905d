"""Processes on a leash end with whoever started them, however that one ends."""

import os
import subprocess
import sys
from pathlib import Path

from tests.simulation.processes import PATIENCE_S, children, ends

STARTS_A_WORLD = """
import sys
from pathlib import Path
from drainscale_sim.closed_loop.processes import Run
with Run("standpipe", 1, Path(sys.argv[1])).world() as world:
    print("there", flush=True)
    sys.stdin.read()
"""


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
