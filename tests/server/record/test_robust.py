"""Whatever a broken kit sends and people type: a record comes of it, and no exception."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import msgspec
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.server.record.conftest import ENTRIES, with_entries, with_result

from drainscale.quantities.samples import PanReading
from drainscale_server.record.building import build
from drainscale_server.record.digest import digest
from drainscale_server.record.document import document
from drainscale_server.record.model import PanPoint
from drainscale_server.record.page import page
from drainscale_server.record.sheet import sheet_of
from drainscale_server.record.sources import Sources

ODDITIES: list[Any] = [None, 0, 0.0, -1.0, 1e-300, 1e9, -1e9, 1e300, "text", [], {}, True]
ODD = st.sampled_from(ODDITIES)
TIMES = st.sampled_from([0.0, -5.0, 1e-9, 1e9, 1e18])
TEXTS = st.text(st.characters(codec="utf-8"), max_size=300)
EXAMPLES = settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])


def leaves(tree: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    if isinstance(tree, dict):
        return [one for key, value in tree.items() for one in leaves(value, (*path, key))]
    if isinstance(tree, list):
        return [one for i, value in enumerate(tree) for one in leaves(value, (*path, i))]
    return [path]


def put(path: tuple[str | int, ...], value: Any) -> Callable[[dict[str, Any]], None]:
    def change(tree: Any) -> None:
        for step in path[:-1]:
            tree = tree[step]
        tree[path[-1]] = value

    return change


def made_of(sources: Sources) -> bytes:
    return page(sheet_of(build(sources))).encode()


@EXAMPLES
@given(st.data())
def test_an_odd_number_anywhere_in_the_answer_breaks_nothing(
    sources: Sources, data: st.DataObject
) -> None:
    path = data.draw(st.sampled_from(leaves(sources.result)))
    assert made_of(with_result(sources, put(path, data.draw(ODD))))


@EXAMPLES
@given(st.data())
def test_odd_times_and_readings_break_nothing(sources: Sources, data: st.DataObject) -> None:
    t = data.draw(TIMES)
    events = [*sources.events, msgspec.structs.replace(sources.events[-1], t=t)]
    cues = [*sources.cues, msgspec.structs.replace(sources.cues[-1], t=t, cue="open")]
    pan = [*sources.digest.pan, PanPoint(t=t, pan_C=data.draw(TIMES))]
    odd = replace(sources.digest, pan=pan, end_s=t)
    assert made_of(replace(sources, events=events, cues=cues, digest=odd))


def test_a_reading_that_no_thermometer_gives_breaks_nothing(sources: Sources) -> None:
    told = digest([PanReading(1.0, 1e308), PanReading(9.0, -1e308), PanReading(20.0, 25.0)], None)
    assert [one.pan_C for one in told.pan] == [None, None, 25.0]
    assert made_of(replace(sources, digest=told, result=None))


@EXAMPLES
@given(st.dictionaries(st.sampled_from(sorted(ENTRIES)), TEXTS | ODD, min_size=1))
def test_odd_entries_break_nothing(sources: Sources, entries: dict[str, Any]) -> None:
    assert made_of(with_entries(sources, **entries))


@settings(EXAMPLES, max_examples=4)
@given(TEXTS, st.data())
def test_odd_texts_and_numbers_break_no_document(
    sources: Sources, text: str, data: st.DataObject
) -> None:
    path = data.draw(st.sampled_from(leaves(sources.result)))
    odd = with_result(with_entries(sources, shop=text, remarks=text), put(path, data.draw(ODD)))
    assert document(sheet_of(build(odd)))
