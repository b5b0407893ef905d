"""Processes that are not one's own children: which there are, and whether they end."""

import time
from pathlib import Path

PATIENCE_S = 60.0  # a bound; each wait ends much earlier


def children(pid: int) -> list[int]:
    """The processes that a process has started and that are there."""
    listed = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    return [int(one) for one in listed]


def is_alive(pid: int) -> bool:
    """Whether a process runs; one that has ended and waits for its parent does not."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


def ends(pid: int) -> bool:
    """Wait until a process has ended."""
    end_s = time.monotonic() + PATIENCE_S
    while is_alive(pid) and time.monotonic() < end_s:
        time.sleep(0.02)  # nothing tells when a process that is not one's own child ends
    return not is_alive(pid)
