"""The unit file: what systemd says of it, and what the kit needs of it."""

import re
from configparser import RawConfigParser
from pathlib import Path

from tests.systemd_units import exposure_of, needs_systemd, said_of

from drainscale.agent.command import KERNEL_BOOT, _options
from drainscale.cli import commands

UNIT = Path(__file__).parents[3] / "firmware" / "systemd" / "drainscale-bench.service"


class Repeated(dict[str, str]):
    """Keys of a unit file may come again: their values add up."""

    def __setitem__(self, key: str, value: object) -> None:
        before = self.get(key)
        if isinstance(value, list) and isinstance(before, list):
            value = before + value
        super().__setitem__(key, value)  # type: ignore[assignment]  # a list while it is read


def unit() -> RawConfigParser:
    read = RawConfigParser(dict_type=Repeated, strict=False, delimiters=("=",))
    read.optionxform = str  # type: ignore[assignment,method-assign]  # keep the case of the keys
    read.read(UNIT, encoding="utf-8")
    return read


def values(key: str) -> list[str]:
    return unit()["Service"][key].split("\n")


def test_it_calls_the_command_with_options_that_it_knows() -> None:
    _, command, *argv = unit()["Service"]["ExecStart"].split()
    assert command == "bench"
    assert _options(argv).order == Path("/var/lib/drainscale/order.toml")


def test_killed_agent_comes_back_within_seconds_and_for_ever() -> None:
    service = unit()["Service"]
    assert service["Restart"] == "on-failure"
    assert float(service["RestartSec"]) <= 2.0
    assert unit()["Unit"]["StartLimitIntervalSec"] == "0"
    assert service["RestartPreventExitStatus"] == "2"  # the command's status for a wrong file


def test_lamps_of_a_killed_agent_are_put_out() -> None:
    # systemd.service(5): ExecStopPost= runs however it ended; "-": may fail
    command = unit()["Service"]["ExecStopPost"]
    assert command.startswith("-/opt/drainscale/bin/drainscale ")
    assert command.split()[1:] == ["dark"]
    assert "dark" in commands()


# Source: Linux, drivers/spi/spidev.c registers its character devices as "spi", gpiolib-cdev as
# "gpiochip"; systemd.resource-control(5): char-NAME is a name of /proc/devices.
def test_pins_and_spi_may_be_used_and_no_other_device() -> None:
    assert values("DevicePolicy") == ["closed"]
    assert set(values("DeviceAllow")) == {"char-gpiochip rw", "char-spi rw"}
    assert unit()["Service"]["SupplementaryGroups"] == "gpio spi"


def test_what_the_kit_reads_in_proc_is_not_hidden() -> None:
    # systemd.exec(5): ProcSubset=pid hides all of /proc that is no process
    assert KERNEL_BOOT.parts[:2] == ("/", "proc")
    assert not re.search(r"(?m)^ProcSubset=pid", UNIT.read_text(encoding="utf-8"))


@needs_systemd
def test_systemd_finds_nothing_wrong_but_the_missing_command(tmp_path: Path) -> None:
    assert said_of(UNIT, tmp_path) == []


@needs_systemd
def test_exposure_that_systemd_reckons_is_at_most_two() -> None:
    assert exposure_of(UNIT) <= 2.0  # our own bound
