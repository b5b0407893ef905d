"""The documentation under test: what the code knows has its entry, and links lead somewhere."""

import inspect
import re
from pathlib import Path

import pytest

from drainscale import cli, errors
from drainscale.quantities.samples import PAN_FAULTS, STEP_NAMES
from drainscale.recording.decode import sample_names
from drainscale.recording.job_file import parse_job
from drainscale.recording.job_rules import REQUIRED, SECTIONS

ROOT = Path(__file__).parents[1]
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])
LINK = re.compile(r"\]\((?!https?:|mailto:)([^)#\s]*)(?:#[^)]*)?\)")


def page(name: str) -> str:
    return (ROOT / "docs" / "reference" / name).read_text(encoding="utf-8")


def job_rows() -> list[tuple[str, str]]:
    return [(section, key) for section, rules in SECTIONS.items() for key in rules.rules]


def shown_default(default: object) -> str:
    if default is REQUIRED:
        return "required"
    if default is None:
        return "unknown"
    return f"{default:g}" if isinstance(default, float) else str(default)


def test_every_command_has_its_heading() -> None:
    headings = re.findall(r"(?m)^## `drainscale (\w+)`$", page("command-line.md"))
    assert sorted(headings) == list(cli.commands())


def test_every_exit_status_is_listed() -> None:
    listed = set(map(int, re.findall(r"(?m)^\| (\d+) \|", page("command-line.md"))))
    known = {value for name, value in vars(cli).items() if name.startswith("EXIT_")}
    assert listed == known | {0}


def test_every_error_has_its_row_and_second_base() -> None:
    rows = dict(re.findall(r"(?m)^\| `(\w+)` \| ([^|]*)\|", page("errors.md")))
    known = {name: kind for name, kind in vars(errors).items() if inspect.isclass(kind)}
    assert set(rows) == set(known)
    for name, kind in known.items():
        assert ("`ValueError`" in rows[name]) == issubclass(kind, ValueError), name


@pytest.mark.parametrize(("section", "key"), job_rows())
def test_every_job_key_has_its_row_with_bound_and_default(section: str, key: str) -> None:
    rule = SECTIONS[section].rules[key]
    part = next(p for p in page("job-files.md").split("\n## ") if f"`[{section}]`" in p)
    row = next(line for line in part.splitlines() if line.startswith(f"| `{key}` |"))
    _, _, allowed, absent, meaning, _ = (cell.strip() for cell in row.split("|"))
    assert allowed == rule.allowed
    assert absent == shown_default(rule.default)
    assert meaning


def test_job_page_lists_no_key_that_is_unknown() -> None:
    listed = re.findall(r"(?m)^\| `(\w+)` \|", page("job-files.md"))
    assert set(listed) == {key for _, key in job_rows()}


def test_example_of_the_job_page_is_a_job() -> None:
    example = re.search(r"```toml\n(.*?)```", page("job-files.md"), re.DOTALL)
    assert example
    assert parse_job(example[1], "example").procedure.approach_K == 3.0


def test_every_record_name_and_label_is_on_the_recordings_page() -> None:
    text = page("recordings.md")
    rows = re.findall(r"(?m)^\| `([\w-]+)` \|", text)
    assert set(rows) == set(sample_names())
    assert all(f"`{label}`" in text for label in (*STEP_NAMES, *PAN_FAULTS))


@pytest.mark.parametrize("path", PAGES, ids=lambda path: str(path.relative_to(ROOT)))
def test_links_lead_to_a_file(path: Path) -> None:
    targets = [link for link in LINK.findall(path.read_text(encoding="utf-8")) if link]
    missing = [link for link in targets if not (path.parent / link).exists()]
    assert not missing


def test_every_page_is_in_the_index() -> None:
    docs = ROOT / "docs"
    index = (docs / "README.md").read_text(encoding="utf-8")
    listed = {(docs / link).resolve() for link in LINK.findall(index)}
    assert {page for page in PAGES if docs in page.parents} - {docs / "README.md"} == listed
