"""``drainscale replay``: an answer written whole, or one clear line and none."""

import gzip
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec
import pytest

from drainscale.cli import main

if TYPE_CHECKING:
    from tests.kit.replay.conftest import Replay

RECORDINGS = Path(__file__).parents[2] / "data/recordings"
BASE = b'[{"bn":"urn:dev:ops:bench-7:","bt":1790176804,"bver":10}'


def run(*argv: str) -> subprocess.CompletedProcess[str]:
    """As a person would: in a process of its own."""
    command = [sys.executable, "-m", "drainscale", "replay", *argv]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)


def argv_of(name: str, out: Path) -> list[str]:
    recording, job = (RECORDINGS / f"{name}.{end}" for end in ("sensml.gz", "job.toml"))
    return [str(recording), "--job", str(job), "--json", str(out)]


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> tuple[subprocess.CompletedProcess[str], Any]:
    out = tmp_path_factory.mktemp("whole") / "answer.json"
    ended = run(*argv_of("ordinary-marked", out))
    return ended, msgspec.json.decode(out.read_bytes())


def test_a_service_is_answered_in_a_process_of_its_own(
    whole: tuple[subprocess.CompletedProcess[str], Any],
) -> None:
    ended, answer = whole
    assert (ended.returncode, ended.stderr) == (0, "")
    assert answer["format"] == 1
    assert answer["level"]["verdict"] == "closed-in-window"


def test_the_figures_are_printed_in_litres_and_quarts(
    whole: tuple[subprocess.CompletedProcess[str], Any],
) -> None:
    """1 US liquid quart = 0.946352946 L (NIST SP 811, table B.8)."""
    ended, answer = whole
    litres = answer["drained"]["volume_20C_L"]
    assert f"{litres:.3f} L" in ended.stdout
    assert f"{litres / 0.946352946:.3f} US qt" in ended.stdout
    assert "k = 2" in ended.stdout


def test_the_same_recording_gives_the_same_answer_in_this_process(
    whole: tuple[subprocess.CompletedProcess[str], Any], tmp_path: Path
) -> None:
    out = tmp_path / "again.json"
    assert main(["replay", *argv_of("ordinary-marked", out)]) == 0
    assert msgspec.json.decode(out.read_bytes()) == whole[1]


def test_a_recording_is_told_by_its_content_not_by_its_name(replay: "Replay") -> None:
    packed = (RECORDINGS / "check-plug.sensml.gz").read_bytes()
    job = (RECORDINGS / "check-plug.job.toml").read_text()
    assert replay(packed, job).answer == replay(gzip.decompress(packed), job).answer


def test_a_recording_cut_by_a_power_failure_is_answered_with_a_warning(replay: "Replay") -> None:
    raw = gzip.decompress((RECORDINGS / "several-jugs.sensml.gz").read_bytes())[:200_000]
    ended = replay(raw, None)
    assert ended.is_sound()
    assert ended.status == 0
    assert ended.said.startswith("drainscale: warning: ")


@pytest.mark.parametrize(
    "records",
    [
        b"",
        b',\n{"n":"scale","u":"count","t":0,"v":5}',
        b',\n{"n":"pan","u":"Cel","t":3.5,"v":20.25}',
        b',\n{"n":"pan-fault","t":0,"vs":"open"}',
        b',\n{"n":"step","t":0,"vs":"level"}',
        b',\n{"n":"step","t":0,"vs":"done"}',
        b',\n{"n":"added","u":"l","t":0,"v":2}',
        b',\n{"n":"reference","u":"Cel","t":0,"v":40}',
        b',\n{"n":"humidity","t":0,"v":40}',
    ],
)
def test_a_recording_of_next_to_nothing_has_an_answer(records: bytes, replay: "Replay") -> None:
    ended = replay(BASE + records + b"\n]\n", None)
    assert ended.status == 0
    assert ended.is_sound()
    answer: Any = ended.answer
    assert answer["drained"]["mass_kg"] is None
    assert answer["level"]["verdict"] in {"not-measured", "not-reached"}


BROKEN = {
    "time goes back": (b',\n{"n":"x","t":5,"v":20},\n{"n":"x","t":4,"v":20}\n]', "line 3"),
    "not finite": (b',\n{"n":"pan","u":"Cel","t":5,"v":NaN},\n{"n":"x","t":6,"v":1}\n]', "line 2"),
    "wrong unit": (b',\n{"n":"pan","u":"K","t":5,"v":290}\n]', "'Cel'"),
    "malformed": (b',\n{"n":"pan","u":"Cel","t":5,,"v":2},\n{"n":"x","t":6,"v":1}\n]', "line 2"),
}  # fmt: skip


@pytest.mark.parametrize(("records", "where"), BROKEN.values(), ids=BROKEN.keys())
def test_a_broken_recording_is_one_line_status_2_and_no_answer(
    records: bytes, where: str, replay: "Replay"
) -> None:
    ended = replay(BASE + records, None)
    assert ended.status == 2
    assert ended.is_sound()
    assert "a.sensml" in ended.said
    assert where in ended.said


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        ("allowance_L", "allowence_L", "allowence_L"),
        ("[fluid]", "[fluids]", "fluid"),
        ("[procedure]", "format = 7\n[procedure]", "format"),
        ("[scale]", "[scale", "a.job.toml"),
    ],
)
def test_a_wrong_job_is_one_line_status_2_and_no_answer(
    old: str, new: str, where: str, replay: "Replay", job_toml: str
) -> None:
    assert old in job_toml
    ended = replay(BASE + b"\n]", job_toml.replace(old, new, 1))
    assert ended.status == 2
    assert ended.is_sound()
    assert where in ended.said


def test_missing_files_are_told_by_name_in_a_process_of_its_own(tmp_path: Path) -> None:
    out = tmp_path / "a.json"
    argv = argv_of("ordinary-marked", out)
    for i, name in ((0, "nowhere.sensml"), (2, "nowhere.job.toml"), (4, "nowhere/a.json")):
        ended = run(*argv[:i], str(tmp_path / name), *argv[i + 1 :])
        assert ended.returncode == 2
        assert "nowhere" in ended.stderr
        assert len(ended.stderr.splitlines()) == 1
    assert not out.exists()


def test_an_answer_that_stood_there_is_replaced_whole(tmp_path: Path) -> None:
    out = tmp_path / "a.json"
    out.write_text("x" * 2_000_000)
    assert main(["replay", *argv_of("check-plug-no-spill", out)]) == 0
    assert msgspec.json.decode(out.read_bytes(), type=dict[str, Any])["format"] == 1


def test_an_answer_that_stood_there_stays_if_the_recording_is_broken(tmp_path: Path) -> None:
    out, recording = tmp_path / "a.json", tmp_path / "a.sensml"
    out.write_text("kept")
    recording.write_text("nonsense")
    argv = argv_of("check-plug", out)
    assert main(["replay", str(recording), *argv[1:]]) == 2
    assert out.read_text() == "kept"
