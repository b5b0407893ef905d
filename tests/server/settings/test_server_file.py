from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from drainscale.errors import ServerFileError
from drainscale_server.settings.server_file import (
    SECTIONS,
    Settings,
    parse_settings,
    read_settings,
)


def test_an_empty_file_gives_the_defaults() -> None:
    assert parse_settings("", "server.toml") == Settings()


@pytest.mark.parametrize("section", [name for name in SECTIONS if name != "tls"])
def test_a_table_without_keys_is_the_same_as_none(section: str) -> None:
    assert parse_settings(f"[{section}]\n", "server.toml") == Settings()


def test_what_is_given_is_taken() -> None:
    text = """
[data]
folder = "/var/lib/drainscale"
keep_samples_days = 400
[shop]
time_zone = "America/New_York"
[web]
host = "192.0.2.7"
port = 443
names = ["bay.example"]
[tls]
certificate_file = "shop.pem"
key_file = "shop.key"
[broker]
way = "outside"
host = "mqtt.example"
port = 8883
username = "server"
password_file = "mqtt.password"
ca_file = "ca.pem"
"""
    settings = parse_settings(text, "server.toml")
    assert settings.folder == Path("/var/lib/drainscale")
    assert settings.data.keep_samples_days == 400
    assert settings.zone == ZoneInfo("America/New_York")
    assert (settings.web.port, settings.web.names) == (443, ("bay.example",))
    assert settings.tls is not None
    assert not settings.broker.is_embedded
    assert settings.broker.username == "server"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[web]\nport = 65536", r"server.toml, line 2: \[web\] port = 65536; allowed: a whole"),
        ("[web]\nport = -1", "0 .any free port. to 65535"),
        ("[web]\nport = 80.5", "a whole number"),
        ("[web]\nport = true", "a whole number"),
        ("[web]\nnames = 'bay'", "a list of host names"),
        ("[web]\nnames = ['']", "a list of host names"),
        ("[web]\nhots = 'bay'", "unknown key 'hots'; did you mean 'host'"),
        ("[web]\nbody_limit_kB = 1", "a number from 16 to 65536"),
        ("[broker]\nway = 'inside'", "'embedded' or 'outside'"),
        ("[tls]\nkey_file = 'k'", "lacks the key 'certificate_file'"),
        ("[data]\nfolder = ''", "the path of a folder"),
        ("web = 1", r"a table \[web\]"),
        ("[stock]", "unknown key 'stock'"),
        ("[data]\nkeep_samples_days = 0", "a number from 1 to 36500"),
        (
            "[shop]\n# where we are\ntime_zone = 'Europe/Lisboa'",
            r"server.toml, line 3: \[shop\] time_zone = 'Europe/Lisboa'; allowed: an IANA name",
        ),
        ("[shop]\ntime_zone = 'Europe'", "an IANA name"),
        ("[shop]\ntime_zone = '../../etc/passwd'", "an IANA name"),
        ("[shop]\ntime_zone = '/etc/localtime'", "an IANA name"),
        ("[shop]\ntime_zone = 'A\u0000'", "an IANA name|not TOML"),
        ("[shop]\ntime_zone = ''", "an IANA name"),
        ("[shop]\ntime_zone = 1", "an IANA name"),
    ],
)
def test_what_is_wrong_is_named_with_its_line(text: str, said: str) -> None:
    with pytest.raises(ServerFileError, match=said):
        parse_settings(text, "server.toml")


def test_a_missing_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(ServerFileError, match="no such file"):
        read_settings(tmp_path / "server.toml")


def defaults() -> list[tuple[str, str, Any]]:
    return [
        (section, key, rule.default)
        for section, table in SECTIONS.items()
        if section != "tls"
        for key, rule in table.rules.items()
    ]


@pytest.mark.parametrize(("section", "key", "default"), defaults())
def test_the_rules_know_the_same_defaults_as_the_settings(
    section: str, key: str, default: Any
) -> None:
    held = getattr(getattr(Settings(), section), key)
    assert held == (tuple(default) if isinstance(default, list) else default)
