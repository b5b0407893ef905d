import contextlib
import json
from typing import Any, get_args

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from tests.kit.messages.examples import envelope_of, one_of_each

from drainscale.core.live import Live as CoreLive
from drainscale.errors import MessageError
from drainscale.messages.codec import MAX_BYTES, decode, encode
from drainscale.messages.records import (
    BODIES,
    Body,
    ResultFormed,
)
from drainscale.messages.telegrams import (
    Figures,
    figures_of,
)
from drainscale.messages.topics import LEAVES, BenchId
from drainscale.procedure.cue_facts import Cue, CueName
from drainscale.procedure.steps import Step


def changed(payload: bytes, **changes: Any) -> bytes:
    fields = json.loads(payload) | changes
    return json.dumps({key: value for key, value in fields.items() if value != "gone"}).encode()


def test_examples_cover_every_leaf() -> None:
    assert set(one_of_each()) == set(LEAVES)


@pytest.mark.parametrize("leaf", sorted(LEAVES))
def test_message_reads_back_the_same(leaf: str, bench_id: BenchId) -> None:
    message = one_of_each()[leaf]
    assert decode(bench_id.topic(leaf), encode(message)) == message


@pytest.mark.parametrize("leaf", sorted(set(LEAVES) - {"samples"}))
def test_unknown_fields_are_ignored(leaf: str, bench_id: BenchId) -> None:
    message = one_of_each()[leaf]
    payload = changed(encode(message), colour="green")
    assert decode(bench_id.topic(leaf), payload) == message


@pytest.mark.parametrize("leaf", sorted(set(LEAVES) - {"samples"}))
def test_newer_format_is_refused_and_named(leaf: str, bench_id: BenchId) -> None:
    payload = changed(encode(one_of_each()[leaf]), format=2)
    with pytest.raises(MessageError, match=f"{leaf}: format 2, this version knows 1"):
        decode(bench_id.topic(leaf), payload)


@pytest.mark.parametrize("leaf", sorted(set(LEAVES) - {"samples"}))
def test_message_without_its_format_is_refused(leaf: str, bench_id: BenchId) -> None:
    with pytest.raises(MessageError, match="format"):
        decode(bench_id.topic(leaf), changed(encode(one_of_each()[leaf]), format="gone"))


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"seq": 0}, "seq at least 1"),
        ({"seq": 1.5}, "Expected `int`"),
        ({"seq": "gone"}, "seq"),
        ({"boot": ""}, "a boot"),
        ({"bench": "bay-4"}, "says it is of north/bay-4"),
        ({"site": "south"}, "says it is of south/bay-3"),
        ({"body": {"type": "weather"}}, "weather"),
        ({"body": {"type": "note", "t": 1, "key": "k", "by": "kit"}}, "body of type 'note'"),
        ({"body": {"type": "samples"}}, "samples"),
    ],
)
def test_wrong_envelope_is_refused(changes: dict[str, Any], why: str, bench_id: BenchId) -> None:
    payload = changed(encode(one_of_each()["event"]), **changes)
    with pytest.raises(MessageError, match=why):
        decode(bench_id.topic("event"), payload)


def test_message_of_absurd_size_is_refused(bench_id: BenchId) -> None:
    with pytest.raises(MessageError, match="at most"):
        decode(bench_id.topic("event"), b" " * (MAX_BYTES + 1))


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_number_that_is_not_finite_is_never_sent(value: float) -> None:
    # JSON has no such number (RFC 8259, section 6); an encoder that writes null would lie
    result = ResultFormed(t=1.0, is_final=False, result={"spill": [{"mass_kg": value}]})
    with pytest.raises(ValueError, match="not a finite number"):
        encode(envelope_of(result))


@given(st.sampled_from(sorted(LEAVES)), st.binary(max_size=60))
@example("event", b"\xff\xfe")
@example("samples", b"[" * 5000)
@example("status", b'{"format":1' + b',"faults":[' * 3000)
@example("samples", b'[{"bn":"a","bt":1e999,"bver":10}]')
def test_no_bytes_raise_anything_but_a_message_error(leaf: str, payload: bytes) -> None:
    with pytest.raises(MessageError):
        decode(f"drainscale/north/bay-3/{leaf}", payload)


def json_values() -> st.SearchStrategy[Any]:
    leaves = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5)
    return st.recursive(leaves, lambda inner: st.lists(inner, max_size=3), max_leaves=5)


@given(st.sampled_from(sorted(LEAVES)), st.integers(0, 400), json_values())
def test_no_altered_value_raises_anything_but_a_message_error(
    leaf: str, which: int, value: Any
) -> None:
    tree = json.loads(encode(one_of_each()[leaf]))
    holders = list(_holders(tree))
    holder, key = holders[which % len(holders)]
    holder[key] = value
    with contextlib.suppress(MessageError):  # anything else fails the test
        decode(f"drainscale/north/bay-3/{leaf}", json.dumps(tree).encode())


def _holders(tree: Any) -> Any:
    pairs = tree.items() if isinstance(tree, dict) else enumerate(tree)
    for key, value in list(pairs):
        yield tree, key
        if isinstance(value, dict | list):
            yield from _holders(value)


def test_bodies_are_told_apart_by_their_leaf() -> None:
    assert set(BODIES.values()) == set(get_args(Body))


def test_figures_are_those_of_the_core_but_for_the_cue() -> None:
    assert {*Figures.__struct_fields__, "cue"} == set(CoreLive.__dataclass_fields__)


def test_figures_take_over_the_core_s_snapshot() -> None:
    names = [name for name in CoreLive.__dataclass_fields__ if name not in ("t", "step", "cue")]
    known: dict[str, Any] = dict.fromkeys(names) | {"fluid_C": 39.5, "faults": ("pan",)}
    cue = Cue(CueName.OPEN, "in-window")
    figures = figures_of(CoreLive(t=2.5, step=Step.LEVEL, cue=cue, **known))
    assert figures == Figures(
        t=2.5, step="level", fluid_C=39.5, cold_enough_s=None, faults=("pan",)
    )
