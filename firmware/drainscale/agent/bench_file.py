"""The bench's own file: its name, its scales and sensors, where its data and its broker are.

    [bench]          site, bench
    [scale] [supply_scale] [pan_sensor] [container]      as in a job file
    [load_cell]      way
    [signals]        muted
    [spool]          folder
    [uplink]         host, port, username, password_file, ca_file, takes_orders

What belongs to one vehicle and fluid ([procedure], [fluid]) comes with the job.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import msgspec

from drainscale.drivers.load_cell import WAYS, Way
from drainscale.errors import BenchFileError, MessageError
from drainscale.messages.addresses import is_loopback
from drainscale.messages.topics import NAME_RULE, BenchId
from drainscale.quantities.job import (
    Container,
    Job,
    PanSensor,
    ScaleSettings,
)
from drainscale.recording.job_rules import SECTIONS as JOB_SECTIONS
from drainscale.recording.order_file import Order as Order
from drainscale.recording.order_file import parse_order
from drainscale.recording.ruled_toml import RuledToml, read_text
from drainscale.recording.toml_lines import find_line
from drainscale.recording.toml_rules import Rule, Section, any_text, between, word


def _is_name(value: object) -> bool:
    try:
        BenchId(str(value), str(value))
    except MessageError:
        return False
    return isinstance(value, str)


def _is_bool(value: object) -> bool:
    return isinstance(value, bool)


def _name() -> Rule:
    return Rule(NAME_RULE, _is_name)


SECTIONS: Mapping[str, Section] = {
    "bench": Section({"site": _name(), "bench": _name()}),
    **{name: JOB_SECTIONS[name] for name in ("scale", "supply_scale", "pan_sensor", "container")},
    "load_cell": Section({"way": word(*WAYS, default="auto")}, is_required=False),
    "signals": Section(
        {"muted": Rule("true or false", _is_bool, False)},
        is_required=False,
    ),
    "spool": Section({"folder": any_text("the path of a folder")}),
    "uplink": Section(
        {
            "host": any_text("a host name or address"),
            "port": between(1, 65535, default=1883),
            "username": any_text("a name", None),
            "password_file": any_text("the path of a file", None),
            "ca_file": any_text("the path of a file", None),
            "takes_orders": Rule("true or false", _is_bool, False),
        },
        is_required=False,
    ),
}


@dataclass(frozen=True, slots=True)
class BenchNames:
    """Whose bench it is."""

    site: str
    bench: str


@dataclass(frozen=True, slots=True)
class LoadCellChoice:
    """How the load cells are read."""

    way: Way = "auto"


@dataclass(frozen=True, slots=True)
class SignalChoice:
    """How loud the bench is."""

    muted: bool = False


@dataclass(frozen=True, slots=True)
class SpoolPlace:
    """Where the spool lies."""

    folder: str


@dataclass(frozen=True, slots=True)
class UplinkTarget:
    """The broker."""

    host: str
    port: int = 1883
    username: str | None = None
    password_file: str | None = None
    ca_file: str | None = None
    takes_orders: bool = False


@dataclass(frozen=True, slots=True)
class Bench:
    """A bench as its file describes it."""

    bench: BenchNames
    scale: ScaleSettings
    pan_sensor: PanSensor
    container: Container
    spool: SpoolPlace
    supply_scale: ScaleSettings | None = None
    load_cell: LoadCellChoice | None = None
    signals: SignalChoice | None = None
    uplink: UplinkTarget | None = None

    @property
    def way(self) -> Way:
        """How the load cells are to be read."""
        return self.load_cell.way if self.load_cell else "auto"

    @property
    def takes_orders(self) -> bool:
        """Whether the next job may come from the board."""
        return self.uplink.takes_orders if self.uplink else False

    @property
    def is_muted(self) -> bool:
        """Whether only urgent cues sound."""
        return self.signals.muted if self.signals else False

    def with_order(self, order: Order) -> Job:
        """The whole job: what this bench is, and what was ordered for this vehicle."""
        return Job(
            order.procedure,
            order.fluid,
            self.scale,
            self.pan_sensor,
            self.container,
            self.supply_scale,
        )


def read_bench(path: str | Path) -> Bench:
    """Read a bench file.

    Raises:
        BenchFileError: Wrong anywhere: names file, line, key, value and what is allowed.
    """
    text = read_text(path, BenchFileError)
    tables = RuledToml(text, str(path), SECTIONS, BenchFileError).tables()
    bench = msgspec.convert(tables, Bench, strict=False)
    _check_uplink(bench, text, str(path))
    return bench


def read_order(path: str | Path) -> Order:
    """Read the order for one service: a job file's ``[procedure]`` and ``[fluid]``.

    A whole job file serves as well; what it says of scales and sensors is the bench's to say
    and is left aside.

    Raises:
        BenchFileError: As ``read_bench``.
    """
    return parse_order(read_text(path, BenchFileError), str(path), BenchFileError)


def _check_uplink(bench: Bench, text: str, path: str) -> None:
    """Off this machine only with a name, a password and TLS."""
    target = bench.uplink
    if target is None or is_loopback(target.host):
        return
    line = find_line(text, "uplink", "host")
    for key in ("username", "password_file", "ca_file"):
        if getattr(target, key) is None:
            raise BenchFileError(
                f"{path}, line {line}: [uplink] lacks the key '{key}': needed off this machine"
                f" (host is {target.host!r})"
            )
