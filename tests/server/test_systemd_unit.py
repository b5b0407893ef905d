"""The unit file: what systemd says of it, and what the server needs of it."""

import re
from pathlib import Path

from tests.systemd_units import exposure_of, needs_systemd, said_of

from drainscale_server.command import _options

UNIT = Path(__file__).parents[2] / "server" / "systemd" / "drainscale-server.service"
TEXT = UNIT.read_text(encoding="utf-8")


def test_it_calls_the_command_with_options_that_it_knows() -> None:
    called = re.search(r"(?m)^ExecStart=\S+ server (.*)$", TEXT)
    assert called
    assert _options(called[1].split()).config == Path("/etc/drainscale/server.toml")


def test_a_killed_server_comes_back_and_one_with_a_wrong_file_does_not() -> None:
    assert re.search(r"(?m)^Restart=on-failure$", TEXT)
    assert re.search(r"(?m)^RestartPreventExitStatus=2$", TEXT)  # the status for a wrong file


@needs_systemd
def test_systemd_finds_nothing_wrong_but_the_missing_command(tmp_path: Path) -> None:
    assert said_of(UNIT, tmp_path) == []


@needs_systemd
def test_exposure_that_systemd_reckons_is_at_most_one_and_a_half() -> None:
    assert exposure_of(UNIT) <= 1.5  # our own bound
