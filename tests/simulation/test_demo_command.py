"""The command ``drainscale demo`` as a person calls it."""

import gzip
import subprocess
import sys
from pathlib import Path

import pytest

from drainscale.recording.job_file import read_job
from drainscale.recording.senml import read_recording
from drainscale_sim.demo.core import Core
from drainscale_sim.demo.playback import Playback
from drainscale_sim.demo.sources import BUILT_IN


def demo(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "drainscale", "demo", *arguments],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=120,
        check=False,
    )


def test_without_a_terminal_a_recording_is_told_in_lines_and_ends_well() -> None:
    ended = demo("--recording", "whole-service")
    said = ended.stdout
    assert ended.returncode == 0, ended.stderr
    for step in (
        "prepare",
        "drain",
        "drain-pan",
        "refit",
        "refill",
        "circulate",
        "warm",
        "level",
        "seal",
        "done",
    ):
        assert f"STEP {step}:" in said
    for cue in ("GO ON", "WAIT", "ADD FLUID", "GET READY", "OPEN", "SHUT"):
        assert f"CUE {cue} (" in said
    assert "caution: Nobody under the vehicle while it is shifted" in said
    assert "within U" in said
    assert "\x1b" not in said


def test_a_cue_that_asks_for_the_plug_comes_before_it_is_shut() -> None:
    said = demo("--recording", "whole-service").stdout
    assert said.index("STEP warm") < said.index("CUE OPEN") < said.index("CUE SHUT")
    assert said.index("CUE SHUT") < said.index("STEP seal")


def test_a_recording_that_is_cut_short_does_not_end_as_it_should(tmp_path: Path) -> None:
    whole = gzip.decompress((BUILT_IN / "whole-service.sensml.gz").read_bytes())
    cut = tmp_path / "cut.sensml"
    cut.write_bytes(whole[: len(whole) // 2])
    job = BUILT_IN / "whole-service.job.toml"
    ended = demo("--recording", str(cut), "--job", str(job))
    assert ended.returncode == 1
    assert "drainscale demo: the service ended in the step" in ended.stderr
    assert "Traceback" not in ended.stderr


@pytest.mark.parametrize(
    ("arguments", "complaint"),
    [
        (["--recording", "absent"], "absent: no such recording; known by name: "),
        (["--scenario", "absent"], "argument --scenario: invalid choice: 'absent'"),
        (["--speed", "0"], "0 is not within 0.1 and 10000"),
    ],
)
def test_a_wrong_call_gives_two_and_one_clear_line(arguments: list[str], complaint: str) -> None:
    ended = demo(*arguments)
    assert ended.returncode == 2
    assert complaint in ended.stderr
    assert "Traceback" not in ended.stderr


def test_looking_at_the_core_does_not_change_its_answer() -> None:
    """The demo asks for a snapshot at every frame; a replay never asks."""
    job = read_job(BUILT_IN / "whole-service.job.toml")
    samples = read_recording(BUILT_IN / "whole-service.sensml.gz").samples
    watched, unwatched = Core(job), Core(job)
    playback = Playback(watched, samples)
    while not playback.is_over:
        playback.advance(playback.t + 1.0)
    for sample in samples:
        unwatched.feed(sample)
    assert watched.result() == unwatched.result()
