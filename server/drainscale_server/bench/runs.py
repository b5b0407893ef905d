"""Starts broker, worker and publisher as processes, and reads their times."""

import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

# Its defaults drop what a busy subscriber has not fetched yet (queue), and wait for one after the
# other (in flight); docs/how-to/run-the-server.md says the same to whoever sets one up.
MOSQUITTO = """\
listener {port} 127.0.0.1
allow_anonymous true
persistence false
max_queued_messages 0
max_queued_bytes 0
max_inflight_messages 0
"""


@dataclass(frozen=True, slots=True)
class Run:
    """One run.

    Attributes:
        messages_per_s: From the first message published to the last one acknowledged; stored,
            where nobody acknowledges.
        cpu_us: Processor time of the worker a message.
    """

    messages_per_s: float
    cpu_us: float


def find_mosquitto() -> str | None:
    """Find Debian's broker, which stands where only root's path leads."""
    return shutil.which("mosquitto", path=os.environ.get("PATH", "") + ":/usr/sbin:/usr/local/sbin")


def run(way: str, n: int) -> Run:
    """Time one way of the worker.

    Args:
        way: As in ``worker``.
        n: Messages.

    Raises:
        RuntimeError: A process ended early.
    """
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        port = 0 if way == "embedded" else stack.enter_context(_mosquitto(folder))
        worker = stack.enter_context(_process("worker", way, str(folder), str(n), str(port)))
        access = _told(worker, "ready")
        publisher = stack.enter_context(_process("publisher", access[0], str(n), *access[1:]))
        _told(publisher, "ready")
        assert publisher.stdin is not None
        publisher.stdin.write("go\n")
        publisher.stdin.flush()
        began_s = float(_told(publisher, "began")[0])
        stored_s, cpu_us = map(float, _told(worker, "stored"))
        ended_s = stored_s if way == "plain" else float(_told(publisher, "acknowledged")[0])
    return Run(n / (ended_s - began_s), cpu_us)


@contextmanager
def _process(name: str, *arguments: str) -> Iterator[subprocess.Popen[str]]:
    command = [sys.executable, "-m", f"drainscale_server.bench.{name}", *arguments]
    pipe = subprocess.PIPE
    with subprocess.Popen(command, stdin=pipe, stdout=pipe, text=True) as process:
        try:
            yield process
        finally:
            assert process.stdin is not None
            process.stdin.close()
            try:
                process.wait(10.0)
            except subprocess.TimeoutExpired:
                process.kill()


def _told(process: subprocess.Popen[str], what: str) -> list[str]:
    """Read what a process says, up to a word."""
    assert process.stdout is not None
    while line := process.stdout.readline():
        word, *rest = line.split()
        if word == what:
            return rest
    raise RuntimeError(f"{process.args!r} ended before it was {what}")


@contextmanager
def _mosquitto(folder: Path) -> Iterator[int]:
    port = _free_port()
    config = folder / "mosquitto.conf"
    config.write_text(MOSQUITTO.format(port=port))
    quiet = subprocess.DEVNULL
    command = [find_mosquitto() or "mosquitto", "-c", str(config)]
    with subprocess.Popen(command, stdout=quiet, stderr=quiet) as process:
        try:
            _wait_for(port)
            yield port
        finally:
            process.kill()


def _wait_for(port: int) -> None:
    end_s = time.monotonic() + 10.0
    while time.monotonic() < end_s:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=0.5).close()
        except OSError:
            time.sleep(0.02)  # nothing tells when another process listens
        else:
            return
    raise RuntimeError("mosquitto does not answer")


def _free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])
