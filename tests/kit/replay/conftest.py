"""The command ``drainscale replay`` as a test calls it, and something to feed it with."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import msgspec
import pytest

from drainscale.cli import main
from drainscale_sim.score.contract import complaints

RECORDINGS = Path(__file__).parents[2] / "data/recordings"


@dataclass(frozen=True)
class Ended:
    """How a call ended: its status, what it said, and the answer that it wrote, if it did."""

    status: int
    said: str
    printed: str
    answer: object | None

    def is_sound(self) -> bool:
        """Hold it to the rule: an answer of the right form, or 2 with one line and no answer."""
        if self.status == 0:
            return complaints(self.answer) == []
        line = self.said.rstrip("\n")
        last = line.splitlines()[-1]
        is_one_line = last.startswith("drainscale: ") and "Traceback" not in line
        return self.status == 2 and is_one_line and self.answer is None


Replay = Callable[[bytes, str | None], Ended]


@pytest.fixture(scope="session")
def job_toml() -> str:
    """Give the job of a standpipe service."""
    return (RECORDINGS / "several-jugs.job.toml").read_text()


@pytest.fixture
def replay(tmp_path: Path, job_toml: str, capsys: pytest.CaptureFixture[str]) -> Replay:
    """Give the command: a recording's bytes and a job's text in, how it ended out."""

    def call(raw: bytes, job: str | None = None) -> Ended:
        recording, job_file, out = (tmp_path / n for n in ("a.sensml", "a.job.toml", "a.json"))
        recording.write_bytes(raw)
        job_file.write_text(job_toml if job is None else job)
        out.unlink(missing_ok=True)
        capsys.readouterr()
        argv = ["replay", str(recording), "--job", str(job_file), "--json", str(out)]
        status = main(argv)
        said = capsys.readouterr()
        answer = strict(out.read_bytes()) if out.exists() else None
        left = {path.name for path in tmp_path.iterdir()} - {"a.sensml", "a.job.toml", "a.json"}
        assert not left, f"left behind: {left}"
        return Ended(status, said.err, said.out, answer)

    return call


def strict(raw: bytes) -> object:
    """Decode strict JSON: msgspec knows no NaN and no Infinity."""
    return msgspec.json.decode(raw)
