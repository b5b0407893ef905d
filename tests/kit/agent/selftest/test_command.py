"""``drainscale selftest`` as it is called, on a machine that is no bench; and its questions."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.kit.agent.benches import BENCH_TOML

from drainscale import cli
from drainscale.agent.selftest.command import AtTerminal, exit_status
from drainscale.agent.selftest.findings import Part

PART = Part("sounder")
GOOD, BAD = PART.judge("beeps", True, "heard", "mend"), PART.fail("beeps", "not heard", "mend it")


@pytest.fixture
def config(tmp_path: Path) -> Path:
    path = tmp_path / "bench.toml"
    folder = tmp_path / "spool"
    path.write_text(BENCH_TOML.replace("/var/lib/drainscale/spool", str(folder)))
    return path


def test_machine_without_a_bench_fails_and_is_told_what_is_missing(
    config: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    if Path("/dev/gpiochip0").exists():
        pytest.skip("this machine has pins")
    assert cli.main(["selftest", "--config", str(config), "--yes"]) == 1
    lines = capsys.readouterr().out.splitlines()
    failed = {tuple(line[10:36].split()) for line in lines if line.startswith("FAIL")}
    assert {("drain", "scale", "opens"), ("thermocouple", "reads"), ("lamps", "opens")} <= failed
    assert any(line.startswith("ok") and "synchronous=FULL" in line for line in lines)
    assert "failed" in lines[-1]


def test_wrong_bench_file_is_refused_before_anything_is_touched(
    config: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    config.write_text(config.read_text().replace("rate_Hz = 10", "rate_Hz = 0"))
    assert cli.main(["selftest", "--config", str(config)]) == 2
    assert "line 7: [scale] rate_Hz = 0" in capsys.readouterr().err
    assert not (tmp_path / "spool").exists()


def test_status_is_that_of_the_worst_check() -> None:
    unasked = PART.not_asked("beeps", "nobody there")
    assert exit_status([GOOD, unasked]) == 0
    assert exit_status([GOOD, BAD, unasked]) == 1


def test_line_of_a_failure_ends_with_what_to_mend_and_others_do_not() -> None:
    assert BAD.line().endswith("not heard; mend it")
    assert GOOD.line().endswith("heard")


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """What is typed at the terminal; at its end, the input ends."""
    answers: list[str] = []

    def read(_prompt: str) -> str:
        if not answers:
            raise EOFError
        return answers.pop(0)

    monkeypatch.setattr("builtins.input", read)
    yield answers
    assert answers == [], "more was typed than was asked for"


def test_answer_is_asked_for_until_it_is_one(typed: list[str]) -> None:
    typed += ["", "maybe", " Y "]
    assert AtTerminal().confirms("Is it lit?")
    typed += ["x", "no"]
    assert not AtTerminal().confirms("Is it lit?")


def test_end_of_the_input_is_a_no_and_keeps_nobody_waiting(typed: list[str]) -> None:
    assert typed == []
    assert not AtTerminal().confirms("Is it lit?")
    AtTerminal().does("Put 1 kg on.")
