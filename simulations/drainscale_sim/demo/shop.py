"""The shop's server for the demo: a process of its own, started by its command.

Nothing of the server is imported here: what the demo knows of it is its command, the lines that
it says at its start, and its HTTP interface.
"""

import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.error import HTTPError, URLError
from urllib.request import ProxyHandler, Request, build_opener

import msgspec

from drainscale_sim.closed_loop.orders import NAMES

START_S = 60.0
END_S = 20.0
ANSWER_S = 30.0
LOOK_S = 0.05
LOG = "server.log"
LAST_WORDS = 3  # lines of the log that are told when it broke
# never by way of a proxy: it is on this machine
_open = build_opener(ProxyHandler({})).open


class ShopError(Exception):
    """The server did not start, or refused something; says what."""


@dataclass(frozen=True)
class Access:
    """How a bench logs in at the server's broker."""

    port: int
    username: str
    password_file: Path


class Shop:
    """One server with its data; it may be killed and started again.

    Args:
        folder: For its data and its log.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._ports = (0, 0)  # any free ones; the same ones again after a restart
        self._process: subprocess.Popen[str] | None = None
        self.url = ""
        self._username = ""

    @property
    def board(self) -> str:
        """Address of the bay's board."""
        return f"{self.url}board/{NAMES.site}/{NAMES.bench}"

    @property
    def access(self) -> Access:
        """What the bench needs."""
        return Access(self._ports[1], self._username, self._folder / "password")

    @property
    def pid(self) -> int:
        """The server's process."""
        assert self._process is not None
        return self._process.pid

    def enrol(self) -> None:
        """Make the bench's password.

        Raises:
            ShopError: The server's command says no.
        """
        bench, file = f"{NAMES.site}/{NAMES.bench}", str(self._folder / "password")
        command = [sys.executable, "-m", "drainscale", *self._command()]
        command += ["--enrol", bench, "--password-file", file]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            raise ShopError(done.stderr.strip())
        for line in done.stdout.splitlines():
            if line.startswith("username = "):
                self._username = line.partition(" = ")[2].strip('"')

    def start(self) -> None:
        """Start it and wait until it is ready.

        Raises:
            ShopError: It ended, or did not get ready in time.
        """
        web, broker = map(str, self._ports)
        command = [sys.executable, "-m", "drainscale_sim.leash", *self._command()]
        with (self._folder / LOG).open("ab") as log:
            # a session of its own: an interrupt from the keyboard is this process's to handle
            self._process = subprocess.Popen(
                [*command, "--port", web, "--broker-port", broker],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=log,
                text=True,
                start_new_session=True,
            )
        self._read_addresses(self._process)
        self._await_ready(self._process)

    def _command(self) -> Sequence[str]:
        return ("server", "--folder", str(self._folder / "data"))

    def _read_addresses(self, process: subprocess.Popen[str]) -> None:
        """Read the lines that it says when its ports are open."""
        told: dict[str, str] = {}
        assert process.stdout is not None
        while not {"board", "broker"} <= told.keys():
            what, _, where = process.stdout.readline().partition(" ")
            if not what:
                raise ShopError(self._last_words("it ended at once"))
            told[what] = where.split(" ")[0].strip()
        self.url = told["board"]
        web, broker = self.url.rstrip("/"), told["broker"]
        self._ports = (int(web.rpartition(":")[2]), int(broker.rpartition(":")[2]))

    def _await_ready(self, process: subprocess.Popen[str]) -> None:
        end_s = time.monotonic() + START_S
        while True:
            try:
                self.get("api/v1/readyz")
            except ShopError as error:
                if process.poll() is not None or time.monotonic() > end_s:
                    raise ShopError(self._last_words(str(error))) from error
                time.sleep(LOOK_S)
            else:
                return

    def _last_words(self, why: str) -> str:
        lines = (self._folder / LOG).read_text("utf-8", "replace").splitlines()
        return "; ".join([f"the server: {why}", *lines[-LAST_WORDS:]])

    # --- HTTP --------------------------------------------------------------------------------

    def get(self, path: str) -> bytes:
        """Ask for something.

        Raises:
            ShopError: It is not there, or the server is not.
        """
        return self._ask(Request(self.url + path))

    def get_json(self, path: str) -> Any:
        """Ask for a JSON document below ``api/v1/``.

        Raises:
            ShopError: As ``get``.
        """
        return msgspec.json.decode(self.get(f"api/v1/{path}"))

    def order(self, job_file: str, label: str, record: dict[str, Any]) -> str:
        """Order the bench's next job, as the board's form does.

        Args:
            job_file: Text of a job file.
            label: For the screens.
            record: What goes on its record from the beginning.

        Returns:
            Its id.

        Raises:
            ShopError: The server refuses it.
        """
        asked = {
            "site": NAMES.site,
            "bench": NAMES.bench,
            "job_file": job_file,
            "label": label,
            "record": record,
        }
        body, kind = msgspec.json.encode(asked), {"content-type": "application/json"}
        told = msgspec.json.decode(self._ask(Request(f"{self.url}api/v1/jobs", body, kind)))
        return str(told["job"])

    def _ask(self, request: Request) -> bytes:
        try:
            with _open(request, timeout=ANSWER_S) as answer:
                return bytes(answer.read())
        except HTTPError as error:
            with error:
                said = error.read().decode("utf-8", "replace")
            raise ShopError(f"{request.full_url}: {error.code}: {said}") from error
        except (URLError, OSError) as error:
            raise ShopError(f"{request.full_url}: {error}") from error

    # --- the end -----------------------------------------------------------------------------

    def kill(self) -> None:
        """Kill it outright, as a power cut would."""
        if self._process is not None:
            self._process.kill()
        self._reap()

    def close(self) -> None:
        """End it; one that does not heed is killed."""
        if self._process is not None:
            self._process.terminate()
        self._reap()

    def _reap(self) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        try:
            process.wait(END_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                pipe.close()
