"""The page about the server file lists every key with its bound."""

import re
from pathlib import Path

import pytest

from drainscale_server.settings.server_file import SECTIONS

TEXT = (Path(__file__).parents[3] / "docs/reference/server-file.md").read_text(encoding="utf-8")
ROWS = [(section, key) for section, table in SECTIONS.items() for key in table.rules]


@pytest.mark.parametrize(("section", "key"), ROWS)
def test_every_key_has_its_row_with_bound(section: str, key: str) -> None:
    part = next(p for p in TEXT.split("\n## ") if p.startswith(f"`[{section}]`"))
    row = next(line for line in part.splitlines() if line.startswith(f"| `{key}` |"))
    assert row.split("|")[2].strip().startswith(SECTIONS[section].rules[key].allowed)


def test_no_unknown_key_is_listed() -> None:
    assert re.findall(r"(?m)^\| `(\w+)` \|", TEXT) == [key for _, key in ROWS]
