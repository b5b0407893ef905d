"""``drainscale budget``: for people, for programs, and with wrong input."""

import doctest
from pathlib import Path

import msgspec
import pytest

from drainscale.budget import halving
from drainscale.cli import main

DATA = Path(__file__).parents[2] / "data/recordings"
JOB = str(DATA / "check-plug.job.toml")
BENCH = """\
[bench]
site = "north"
bench = "bay-1"

[scale]
capacity_kg = 20.0
rate_Hz = 10
calibration_kg = [0.0, 10.0]
calibration_counts = [100000, 2247484]
calibration_u_kg = 0.05
repeatability_u_kg = 0.004
"""


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    path = tmp_path / "bench.toml"
    path.write_text(BENCH)
    return path


def test_it_tells_record_whole_kit_and_what_to_mend(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["budget", "--job", JOB]) == 0
    told = capsys.readouterr().out
    assert told.count("U, mL") == 2
    assert "6 L: density of the fluid dominates" in told
    assert "one bottle filled to the same mark" in told
    assert "repeatability_u_kg = 0.0" in told
    assert max(map(len, told.splitlines())) <= 100


def test_a_bench_file_brings_its_own_scale(capsys: pytest.CaptureFixture[str], bench: Path) -> None:
    assert main(["budget", "--job", JOB, "--bench", str(bench), "--litres", "4", "--json"]) == 0
    (answer,) = msgspec.json.decode(capsys.readouterr().out)
    # 50 g of 10 kg, on 3.4 kg, is the largest by far
    assert answer["record"]["budget"][0]["source"] == "calibration weights"
    assert answer["repeatability_u_kg"]["said"] == 0.004
    assert answer["whole"]["U_volume_L"] >= answer["record"]["U_volume_L"]


def test_five_kits_can_be_compared_without_a_job(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["budget", "--kits"]) == 0
    told = capsys.readouterr().out
    assert [f"{name}: U, mL" in told for name in "ABCDE"] == [True] * 5


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (BENCH.replace("capacity_kg = 20.0", "capacity_kg = -1"), "line 6: [scale] capacity_kg"),
        ("[bench]\nsite = 'north'\n", "the table [scale] is missing"),
        ("[scale", "not TOML"),
    ],
)
def test_a_wrong_bench_file_is_one_line_and_2(
    capsys: pytest.CaptureFixture[str], bench: Path, text: str, says: str
) -> None:
    bench.write_text(text)
    assert main(["budget", "--job", JOB, "--bench", str(bench)]) == 2
    assert says in capsys.readouterr().err


def test_more_than_the_cell_carries_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["budget", "--job", JOB, "--litres", "40"]) == 1
    assert "the platform carries" in capsys.readouterr().err


def test_the_examples_in_the_docstrings_run() -> None:
    flags = doctest.ELLIPSIS
    assert doctest.testmod(halving, optionflags=flags) == doctest.TestResults(0, 1)
