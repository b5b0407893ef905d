"""The server's own file: where its data are, where it listens, which broker it uses.

    [data]     folder, keep_samples_days
    [shop]     time_zone
    [web]      host, port, names
    [tls]      certificate_file, key_file
    [broker]   way, host, port, username, password_file, ca_file

All of it may be left out: then the server keeps its data in ``drainscale-data`` and listens on
this machine only.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import tzinfo
from pathlib import Path
from typing import Literal

import msgspec

from drainscale.errors import ServerFileError
from drainscale.recording.ruled_toml import RuledToml, read_text
from drainscale.recording.toml_rules import Rule, Section, any_text, between, word
from drainscale_server.settings.shop_time import UTC_NAME, is_zone, zone_of

BrokerWay = Literal["embedded", "outside"]

ANY_FREE_PORT = 0


def _names() -> Rule:
    def accepts(value: object) -> bool:
        return isinstance(value, list) and all(isinstance(name, str) and name for name in value)

    return Rule("a list of host names", accepts, [])


def _port(default: int) -> Rule:
    return Rule(
        "a whole number from 0 (any free port) to 65535",
        lambda value: type(value) is int and 0 <= value <= 65535,
        default,
    )


SECTIONS: Mapping[str, Section] = {
    "data": Section(
        {
            "folder": any_text("the path of a folder", "drainscale-data"),
            "keep_samples_days": between(1, 36500, default=None),
        },
        is_required=False,
    ),
    "shop": Section(
        {"time_zone": Rule("an IANA name such as 'Europe/Lisbon'", is_zone, UTC_NAME)},
        is_required=False,
    ),
    "web": Section(
        {
            "host": any_text("a host name or address", "127.0.0.1"),
            "port": _port(8080),
            "names": _names(),
            "body_limit_kB": between(16, 65536, default=256),
        },
        is_required=False,
    ),
    "tls": Section(
        {
            "certificate_file": any_text("the path of a file"),
            "key_file": any_text("the path of a file"),
        },
        is_required=False,
    ),
    "broker": Section(
        {
            "way": word("embedded", "outside", default="embedded"),
            "host": any_text("a host name or address", "127.0.0.1"),
            "port": _port(1883),
            "username": any_text("a name", None),
            "password_file": any_text("the path of a file", None),
            "ca_file": any_text("the path of a file", None),
        },
        is_required=False,
    ),
}


@dataclass(frozen=True, slots=True)
class DataPlace:
    """Where everything is kept that outlives the server.

    Attributes:
        keep_samples_days: How long after a job its samples are kept; None: for ever.
    """

    folder: str = "drainscale-data"
    keep_samples_days: float | None = None


@dataclass(frozen=True, slots=True)
class ShopPlace:
    """The shop itself.

    Attributes:
        time_zone: IANA name of the zone in which people are told dates and times of day.
    """

    time_zone: str = UTC_NAME


@dataclass(frozen=True, slots=True)
class Web:
    """Where pages and JSON are served.

    Attributes:
        names: Host names by which browsers may ask for it, beside addresses and ``localhost``.
        body_limit_kB: The longest request body that is read.
    """

    host: str = "127.0.0.1"
    port: int = 8080
    names: tuple[str, ...] = ()
    body_limit_kB: float = 256


@dataclass(frozen=True, slots=True)
class Tls:
    """Certificate and key of this server, PEM; for its pages and for its broker."""

    certificate_file: str
    key_file: str


@dataclass(frozen=True, slots=True)
class BrokerPlace:
    """The MQTT broker.

    Attributes:
        way: ``embedded``: this process is the broker and listens on host and port; ``outside``:
            there is one at host and port.
        username, password_file, ca_file: Of an outside broker only.
    """

    way: BrokerWay = "embedded"
    host: str = "127.0.0.1"
    port: int = 1883
    username: str | None = None
    password_file: str | None = None
    ca_file: str | None = None

    @property
    def is_embedded(self) -> bool:
        """Whether this process is the broker."""
        return self.way == "embedded"


@dataclass(frozen=True, slots=True)
class Settings:
    """All that the server is told."""

    data: DataPlace = DataPlace()
    shop: ShopPlace = ShopPlace()
    web: Web = Web()
    broker: BrokerPlace = BrokerPlace()
    tls: Tls | None = None

    @property
    def folder(self) -> Path:
        """Where everything is kept that outlives the server."""
        return Path(self.data.folder)

    @property
    def zone(self) -> tzinfo:
        """The time zone of the shop."""
        return zone_of(self.shop.time_zone)


def read_settings(path: str | Path) -> Settings:
    """Read a server file.

    Raises:
        ServerFileError: Wrong anywhere: names file, line, key, value and what is allowed.
    """
    return parse_settings(read_text(path, ServerFileError), str(path))


def parse_settings(text: str, name: str) -> Settings:
    """Read settings from the text of their file.

    Args:
        text: The TOML document.
        name: How messages call it.

    Raises:
        ServerFileError: As ``read_settings``.
    """
    tables = RuledToml(text, name, SECTIONS, ServerFileError).tables()
    return msgspec.convert({k: v for k, v in tables.items() if v is not None}, Settings)
