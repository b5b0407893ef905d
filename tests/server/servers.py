"""The whole server as a process on free ports of this machine."""

import re
import signal
import subprocess
import sys
from pathlib import Path

PATIENCE_S = 30.0  # a bound for waits that end much earlier


class ServerProcess:
    """``drainscale server`` on a data folder; started again after a kill it finds all of it.

    Attributes:
        url: Where the pages are.
        broker_port: Where the broker listens.
    """

    def __init__(self, folder: Path, *more: str) -> None:
        self._folder = folder
        self._more = more
        self._process: subprocess.Popen[str] | None = None
        self.url = ""
        self.broker_port = 0

    @property
    def port(self) -> int:
        return int(self.url.rstrip("/").rpartition(":")[2])

    def start(self, port: int = 0, broker_port: int = 0) -> None:
        """Start it, and wait until it says where it is."""
        command = [sys.executable, "-m", "drainscale_server.command", "--folder"]
        command += [str(self._folder), "--port", str(port), "--broker-port", str(broker_port)]
        with (self._folder.parent / "server.log").open("a") as log:
            self._process = subprocess.Popen(
                [*command, *self._more], stdout=subprocess.PIPE, stderr=log, text=True
            )
        assert self._process.stdout is not None
        told = "".join(self._process.stdout.readline() for _ in range(3))
        board = re.search(r"^board (\S+)$", told, re.MULTILINE)
        broker = re.search(r"^broker \S+:(\d+) ", told, re.MULTILINE)
        assert board, self.log()
        assert broker, self.log()
        self.url, self.broker_port = board[1], int(broker[1])

    def stop(self, number: signal.Signals = signal.SIGTERM) -> int:
        """End it by a signal; give its exit status."""
        process, self._process = self._process, None
        if process is None:
            return 0
        process.send_signal(number)
        try:
            return process.wait(PATIENCE_S)
        finally:
            process.kill()
            assert process.stdout is not None
            process.stdout.close()

    def kill(self) -> None:
        """Kill it in the middle of whatever it does."""
        self.stop(signal.SIGKILL)

    def log(self) -> str:
        """Give what it logged over all its starts."""
        return (self._folder.parent / "server.log").read_text()
