"""The small server of `fake_server.py` in the tests' hands: started, told, killed."""

import json
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from typing import Any

START_S = 20.0
LOOK_S = 0.03
BOARD = "/board/north/bay-1"


def free_port() -> int:
    """Find a port that nobody listens on."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


class Fake:
    """One such server on a port of its own."""

    def __init__(self) -> None:
        self.port = free_port()
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        """Where it is."""
        return f"http://127.0.0.1:{self.port}"

    @property
    def board(self) -> str:
        """Where its board is."""
        return self.url + BOARD

    def start(self) -> None:
        """Start it and wait until it answers.

        Raises:
            AssertionError: It does not.
        """
        command = [sys.executable, "-m", "tests.server.board.fake_server", "--port", str(self.port)]
        self._process = subprocess.Popen(command)
        end_s = time.monotonic() + START_S
        while True:
            try:
                self._get("/fake/asked")
            except (urllib.error.URLError, ConnectionError):
                assert time.monotonic() < end_s, "the fake server does not answer"
                time.sleep(LOOK_S)
            else:
                return

    def kill(self) -> None:
        """End it at once, as a power cut does."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None

    def show(self, t: float, **more: Any) -> None:
        """Show the recorded service at ``t``; see `fake_server.py` for more."""
        self._post("/fake/show", {"t": t, **more})

    def answers(self, **answer: Any) -> None:
        """Say how commands and jobs are answered from now on."""
        self._post("/fake/answers", answer)

    def silence(self, is_silent: bool) -> None:
        """Let the streams say nothing, or speak again."""
        self._post("/fake/feed", {"is_silent": is_silent})

    def end_streams(self) -> None:
        """Let each stream ask its viewer to come again, and end."""
        self._post("/fake/feed", {"is_ended": True})

    def streams_opened(self) -> int:
        """Count the streams that were ever opened."""
        return int(self._get("/fake/asked")["streams_opened"])

    def asked(self) -> list[dict[str, Any]]:
        """Return what was posted since the last call."""
        return list(self._get("/fake/asked")["asked"])

    def streams(self) -> int:
        """Count the streams that are open."""
        return int(self._get("/fake/asked")["streams"])

    def _get(self, path: str) -> Any:
        with urllib.request.urlopen(self.url + path, timeout=5.0) as answer:
            return json.load(answer)

    def _post(self, path: str, told: object) -> None:
        request = urllib.request.Request(
            self.url + path, json.dumps(told).encode(), {"Content-Type": "application/json"}
        )
        urllib.request.urlopen(request, timeout=5.0).close()
