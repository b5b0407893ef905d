"""The page: what it says, that nothing in it can run, and that it can be read without seeing."""

import re
from html.parser import HTMLParser

import pytest
from tests.server.record.conftest import with_entries

from drainscale_server.record.building import build
from drainscale_server.record.document import PAPERS
from drainscale_server.record.model import ServiceRecord
from drainscale_server.record.page import page
from drainscale_server.record.sheet import sheet_of
from drainscale_server.record.sources import Sources

VOID = {"meta", "link", "br", "img", "hr", "input", "polyline", "polygon"}


class _Outline(HTMLParser):
    """Reads a page into tags and texts, and holds that every tag is closed."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self._open: list[str] = []
        self.feed(text)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in VOID:
            assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [told for name, told in self.tags if name == tag]


@pytest.fixture
def outline(record: ServiceRecord) -> _Outline:
    return _Outline(page(sheet_of(record), document_path="record.pdf"))


def test_it_says_all_that_the_document_says(record: ServiceRecord, outline: _Outline) -> None:
    text = " ".join("".join(outline.texts).split())
    for words in ("2.514", "Level set", "Not for trade", "foot switch", "US qt"):
        assert words in text
    assert record.seal.messages_sha256 in text


def test_nothing_in_it_can_run_or_bring_its_own_style(outline: _Outline) -> None:
    names = {tag for tag, _ in outline.tags}
    assert not names & {"script", "style", "iframe", "object", "img", "form"}
    for _, attributes in outline.tags:
        assert "style" not in attributes
        assert not [name for name in attributes if name.startswith("on")]
    links = [one.get("href") or "" for one in outline.all("a") + outline.all("link")]
    assert links
    assert not [link for link in links if re.match(r"[a-z]+:|//", link)]


HOSTILE = "\"><script>alert(1)</script><svg onload='x'> & ' \" <!--"


def test_hostile_texts_stay_texts(sources: Sources, outline: _Outline) -> None:
    keys = ("shop", "vehicle", "plate", "unit", "remarks", "fluid_name", "drips_note")
    told = page(sheet_of(build(with_entries(sources, **dict.fromkeys(keys, HOSTILE)))))
    hostile = _Outline(told)
    assert [tag for tag, _ in hostile.tags if tag == "script"] == []
    assert len(hostile.all("svg")) == len(outline.all("svg"))
    assert "".join(hostile.texts).count("<script>alert(1)</script>") >= len(keys)


def test_headings_tables_and_plots_have_names(outline: _Outline) -> None:
    (html,) = outline.all("html")
    assert html["lang"] == "en"
    assert len(outline.all("h1")) == 1
    assert len(outline.all("caption")) == len(outline.all("table")) > 3
    assert all(one.get("scope") in ("col", "row") for one in outline.all("th"))
    ids = {told["id"] for _, told in outline.tags if told.get("id")}
    assert len(ids) == sum(1 for _, told in outline.tags if told.get("id"))
    for one in outline.all("svg"):
        assert one["role"] == "img"
        assert set((one["aria-labelledby"] or "").split()) <= ids


@pytest.mark.parametrize("paper", list(PAPERS))
def test_it_is_made_for_the_paper_that_is_asked_for(record: ServiceRecord, paper: str) -> None:
    (body,) = _Outline(page(sheet_of(record), paper)).all("body")
    assert body["class"] == f"paper-{paper}"


def test_scripts_of_any_direction_are_kept_apart(sources: Sources) -> None:
    told = page(sheet_of(build(with_entries(sources, technician="محمد 42"))))
    assert '<dd dir="auto">محمد 42</dd>' in told
