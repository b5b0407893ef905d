"""The command ``drainscale``: finding, calling and leaving its subcommands."""

import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from importlib.metadata import EntryPoint

import pytest

from drainscale import __version__, cli
from drainscale.errors import ProcedureError, RecordingError

Call = Callable[..., int]


def prints_arguments(argv: Sequence[str]) -> int:
    sys.stdout.write("|".join(argv) + "\n")
    return 7


def meets_bad_input(_argv: Sequence[str]) -> int:
    raise RecordingError("a.sensml, line 3: malformed")


def fails_otherwise(_argv: Sequence[str]) -> int:
    raise ProcedureError("not now")


def is_interrupted(_argv: Sequence[str]) -> int:
    raise KeyboardInterrupt


def has_a_bug(_argv: Sequence[str]) -> int:
    raise ZeroDivisionError


def stops_like_argparse(_argv: Sequence[str]) -> int:
    raise SystemExit(2)


def stops_with_a_text(_argv: Sequence[str]) -> int:
    raise SystemExit("that will not do")


def stops_in_peace(_argv: Sequence[str]) -> int:
    raise SystemExit


def point(target: str) -> EntryPoint:
    return EntryPoint(name="try", value=target, group=cli.GROUP)


@pytest.fixture
def call(monkeypatch: pytest.MonkeyPatch) -> Call:
    """Call ``drainscale try ...`` where ``try`` is the function given."""

    def calling(target: str, *arguments: str) -> int:
        full = target if ":" in target else f"{__name__}:{target}"
        monkeypatch.setattr(cli, "commands", lambda: {"try": point(full)})
        return cli.main(["try", *arguments])

    return calling


def test_subcommand_gets_its_arguments_and_gives_the_status(
    call: Call, capsys: pytest.CaptureFixture[str]
) -> None:
    assert call("prints_arguments", "--job", "x.toml", "-h", "--version", "rec") == 7
    assert capsys.readouterr().out == "--job|x.toml|-h|--version|rec\n"


@pytest.mark.parametrize(
    ("function", "status", "text"),
    [
        ("meets_bad_input", 2, "drainscale: a.sensml, line 3: malformed\n"),
        ("fails_otherwise", 1, "drainscale: not now\n"),
        ("is_interrupted", 130, "drainscale: interrupted\n"),
        ("stops_like_argparse", 2, ""),
        ("stops_with_a_text", 1, "drainscale: that will not do\n"),
        ("stops_in_peace", 0, ""),
    ],
)
def test_trouble_gives_its_status_and_at_most_one_line(
    call: Call, capsys: pytest.CaptureFixture[str], function: str, status: int, text: str
) -> None:
    assert call(function) == status
    assert capsys.readouterr() == ("", text)


def test_bug_of_ours_is_not_hidden(call: Call) -> None:
    with pytest.raises(ZeroDivisionError):
        call("has_a_bug")


@pytest.mark.parametrize(
    ("target", "text"),
    [
        ("drainscale_sim.nowhere:main", "drainscale_sim.nowhere is not part of this"),
        ("no_such_package.x:main", "no_such_package, which is not installed"),
    ],
)
def test_subcommand_that_cannot_be_loaded_says_what_it_lacks(
    call: Call, capsys: pytest.CaptureFixture[str], target: str, text: str
) -> None:
    assert call(target) == 1
    assert text in capsys.readouterr().err


def test_unknown_command_is_refused_with_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["repaly", "x"]) == 2
    assert capsys.readouterr().err == "drainscale: no command 'repaly'; did you mean 'replay'?\n"


def test_unlike_command_is_refused_with_the_list(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["zzz"]) == 2
    assert f"there are: {', '.join(cli.commands())}" in capsys.readouterr().err


def test_no_command_shows_the_help_and_is_a_wrong_call(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main([]) == 2
    assert "usage: drainscale" in capsys.readouterr().err


def test_unknown_option_is_a_wrong_call(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["--loud", "replay"]) == 2
    assert "usage: drainscale" in capsys.readouterr().err


def test_version_is_that_of_the_package(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["--version"]) == 0
    assert capsys.readouterr().out == f"drainscale {__version__}\n"


def test_help_names_every_command_with_a_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["--help"]) == 0
    listed = capsys.readouterr().out.partition("commands:\n")[2].splitlines()
    assert [line.split()[0] for line in listed] == list(cli.commands())
    assert all(len(line.split(maxsplit=1)[1]) > 10 for line in listed)
    assert "(not installed)" not in "".join(listed)


def test_every_command_can_be_loaded_and_has_help(capsys: pytest.CaptureFixture[str]) -> None:
    for name in cli.commands():
        assert cli.main([name, "--help"]) == 0
        assert f"drainscale {name}" in capsys.readouterr().out


def test_help_line_of_a_missing_module_says_so() -> None:
    assert cli.help_line(point("drainscale.nowhere.command:main")) == "(not installed)"
    assert cli.help_line(point("nowhere:main")) == "(not installed)"


def test_help_line_is_the_first_of_the_modules_docstring() -> None:
    assert cli.help_line(point("drainscale.errors:x")).startswith("Every error that drainscale")


def run_python(program: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )


def test_help_imports_none_of_the_subcommands() -> None:
    program = """if True:
        import sys
        from drainscale import cli
        cli.main(["--help"])
        print(sorted(m for m in sys.modules if m.startswith("drainscale")), file=sys.stderr)
    """
    done = run_python(program)
    assert done.stderr.strip() == "['drainscale', 'drainscale.cli', 'drainscale.errors']"


def test_reader_who_leaves_early_meets_no_traceback() -> None:
    command = [sys.executable, "-m", "drainscale", "--help"]
    buffered = os.environ | {"PYTHONUNBUFFERED": ""}  # else argparse itself swallows the error
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=buffered
    ) as ours:
        assert ours.stdout
        assert ours.stderr
        ours.stdout.close()
        complaint = ours.stderr.read()
    assert (ours.returncode, complaint) == (141, b"")


def test_module_and_console_script_are_the_same_command() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "drainscale", "--version"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout) == (0, f"drainscale {__version__}\n")
