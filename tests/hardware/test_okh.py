"""The manifest, the licence and the changelog of the hardware."""

import csv
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from mechanical.assembly import Heights
from mechanical.params import read_params
from products import HARDWARE

# keys of OKH-LOSH 1.0 that have to be there (its how-to page marks them so), and what names a file
REQUIRED = ("okhv", "name", "repo", "version", "license", "licensor", "function")
FILES = (
    "readme",
    "contribution-guide",
    "image",
    "bom",
    "manufacturing-instructions",
    "user-manual",
)


@pytest.fixture(scope="module")
def manifest() -> dict[str, Any]:
    return tomllib.loads((HARDWARE / "okh.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("key", REQUIRED)
def test_required_key_is_there(manifest: dict[str, Any], key: str) -> None:
    assert manifest[key]


@pytest.mark.parametrize("key", FILES)
def test_file_that_the_manifest_names_is_there(manifest: dict[str, Any], key: str) -> None:
    assert (HARDWARE / manifest[key]).is_file()


def test_software_and_its_installation_guide_are_there(manifest: dict[str, Any]) -> None:
    (software,) = manifest["software"]
    assert (HARDWARE / software["release"] / "__init__.py").is_file()
    assert (HARDWARE / software["installation-guide"]).is_file()


def test_every_made_part_is_in_the_manifest_with_its_files(manifest: dict[str, Any]) -> None:
    with (HARDWARE / "cad/parts.csv").open(encoding="utf-8", newline="") as lines:
        rows = [row for row in csv.DictReader(lines) if row["file"]]
    listed = {part["name"]: part for part in manifest["part"]}
    assert list(listed) == [row["description"] for row in rows]
    for row in rows:
        part = listed[row["description"]]
        assert part["export"] == [f"cad/{row['file']}", f"cad/{row['drawing']}"]
        assert part["material"] == row["figures"]
        assert all((HARDWARE / path).is_file() for path in (*part["export"], part["source"]))


def test_revision_is_the_same_everywhere(manifest: dict[str, Any]) -> None:
    nets = tomllib.loads((HARDWARE / "nets.toml").read_text(encoding="utf-8"))
    revision = read_params().revision
    assert manifest["version"] == nets["revision"] == revision
    changes = (HARDWARE / "CHANGELOG.md").read_text(encoding="utf-8")
    assert re.findall(r"(?m)^## Revision (\w+)", changes)[0] == revision


def test_manifest_claims_no_more_than_a_concept_while_nothing_is_built(
    manifest: dict[str, Any],
) -> None:
    assert read_params().status == "designed and simulated, not yet built"
    assert manifest["technology-readiness-level"] == "OTRL-2"


def test_outer_dimensions_are_those_of_the_drain_platform(manifest: dict[str, Any]) -> None:
    params = read_params()
    top, deck = params.platform["drain"].top, Heights.of(params, "drain").deck
    size = re.findall(r"[\d.]+", manifest["outer-dimensions"]["openSCAD"])
    assert [float(one) for one in size] == [top, top, deck]
    assert manifest["outer-dimensions"]["unit"] == "mm"


def test_licence_is_the_whole_text_of_the_one_that_is_named(manifest: dict[str, Any]) -> None:
    text = (HARDWARE / "LICENSE").read_text(encoding="utf-8")
    assert manifest["license"] == "CERN-OHL-P-2.0"
    assert text.startswith("CERN Open Hardware Licence Version 2 - Permissive")
    headings = re.findall(r"(?m)^(\d) \w", text)
    assert headings == [str(n) for n in range(1, 8)]
    assert "7.4 This Licence shall not be enforceable except by a Licensor" in text


LICENSED = [HARDWARE / "cad/params.toml", HARDWARE / "okh.toml", HARDWARE / "CHANGELOG.md"]
WRITTEN = [path for path in (HARDWARE / "docs").glob("*.md") if path.name != "mechanics.md"]


@pytest.mark.parametrize("path", [*LICENSED, *WRITTEN], ids=lambda path: path.name)
def test_source_says_its_licence_in_its_first_line(path: Path) -> None:
    assert "SPDX-License-Identifier: CERN-OHL-P-2.0" in path.read_text("utf-8").splitlines()[0]


CODE = sorted((HARDWARE / "tools/mechanical").glob("*.py"))


@pytest.mark.parametrize("path", CODE, ids=lambda path: path.name)
def test_code_says_that_it_is_under_the_projects_licence(path: Path) -> None:
    assert path.read_text(encoding="utf-8").startswith("# SPDX-License-Identifier: Apache-2.0")
