import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.server.made_up import BAY_3, RECEIVED_S, numbered, pack, service

from drainscale.messages.codec import MAX_BYTES, encode
from drainscale.messages.records import EventTold
from drainscale.messages.telegrams import Ack, CommandAnswer, Live, Status
from drainscale.messages.topics import LEAVES
from drainscale_server.ingest.reading import Arrived, Misfit, Number, Numbered, Told, read

GOLDEN = Path(__file__).parents[2] / "golden" / "format-1"
EVENT = EventTold(t=1.0, event="dripped", step="drain")


def at(leaf: str, payload: bytes | str) -> Arrived:
    raw = payload if isinstance(payload, bytes) else payload.encode()
    return Arrived(f"drainscale/north/bay-3/{leaf}", raw, RECEIVED_S)


def misfit(arrived: Arrived) -> Misfit:
    found = read(arrived)
    assert isinstance(found, Misfit), found
    return found


def test_every_numbered_message_is_read_with_its_number() -> None:
    for seq, arrived in enumerate(service(), start=1):
        found = read(arrived)
        assert isinstance(found, Numbered)
        assert found.number == Number("north", "bay-3", "b1", seq)


@pytest.mark.parametrize("leaf", [leaf for leaf, how in LEAVES.items() if how.is_numbered])
def test_messages_of_every_release_are_read(leaf: str) -> None:
    assert isinstance(read(at(leaf, (GOLDEN / f"{leaf}.json").read_bytes())), Numbered)


def test_what_only_matters_now_is_told() -> None:
    for message in (
        Status(site="north", bench="bay-3", boot="b1", state="online"),
        Live(site="north", bench="bay-3", boot="b1", now_s=1.0),
        CommandAnswer(id="c1", boot="b1", verdict="accepted", now_s=1.0),
    ):
        leaf = {"Status": "status", "Live": "live"}.get(type(message).__name__, "answer")
        assert read(at(leaf, encode(message))) == Told(BAY_3, message)


def test_what_the_server_itself_says_is_not_for_it() -> None:
    assert read(at("ack", encode(Ack(boot="b1", through=3)))) is None
    assert read(at("job", b"")) is None
    assert read(at("command", b"not even JSON")) is None


def test_a_retained_message_that_was_cleared_is_nothing() -> None:
    assert read(at("status", b"")) is None
    assert misfit(at("event", b"")).kind == "unreadable"


@given(
    st.sampled_from([*LEAVES, "photo", ""]),
    st.binary(max_size=200) | st.text(max_size=200).map(str.encode),
)
def test_no_bytes_make_it_raise(leaf: str, payload: bytes) -> None:
    found = read(at(leaf, payload))
    if found is not None:
        assert isinstance(found, Misfit)
        assert found.number is None


@given(st.text(max_size=80), st.binary(max_size=40))
def test_no_topic_makes_it_raise(topic: str, payload: bytes) -> None:
    found = read(Arrived(topic, payload, RECEIVED_S))
    assert found is None or isinstance(found, Misfit)


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=12,
)


TYPED = [leaf for leaf, how in LEAVES.items() if how.is_numbered and leaf != "samples"]


@given(st.sampled_from(TYPED), st.data())
def test_a_message_with_one_field_changed_is_read_or_put_aside(
    leaf: str, data: st.DataObject
) -> None:
    message = json.loads((GOLDEN / f"{leaf}.json").read_bytes())
    key = data.draw(st.sampled_from(sorted(message)))
    message[key] = data.draw(JSON)
    found = read(at(leaf, json.dumps(message)))
    assert isinstance(found, Numbered | Misfit)
    assert found.number is not None or key in ("boot", "seq")


@pytest.mark.parametrize("leaf", ["event", "samples", "photo"])
def test_what_a_newer_format_brings_is_put_aside_with_its_number(leaf: str) -> None:
    newer = '{"format":2,"boot":"b9","seq":7,"shape":"unheard of"}'
    pack = (
        '[{"bn":"urn:dev:ops:north.bay-3:","bt":1,"bver":10},{"n":"format","v":2},'
        '{"n":"boot","vs":"b9"},{"n":"seq","v":7},{"n":"clock","x":{}}]'
    )
    found = misfit(at(leaf, pack if leaf == "samples" else newer))
    assert found.number == Number("north", "bay-3", "b9", 7)
    assert found.kind == "newer-format"


def test_a_leaf_that_nobody_knows_is_put_aside_with_its_number_if_it_has_one() -> None:
    assert misfit(at("photo", '{"boot":"b9","seq":7}')).number is not None
    found = misfit(at("photo", "no number here"))
    assert (found.number, found.is_of_sequence) == (None, False)


def test_a_message_without_a_readable_number_keeps_its_place_open() -> None:
    found = misfit(at("event", "{broken"))
    assert (found.kind, found.number, found.is_of_sequence) == ("unreadable", None, True)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("boot", '""'), ("boot", '"' + "b" * 65 + '"'), ("boot", r'"a\nb"'),
        ("seq", "0"), ("seq", "-1"), ("seq", str(2**53 + 1)), ("seq", "1e3"), ("seq", '"7"'),
    ],
)  # fmt: skip
def test_numbers_that_no_store_can_hold_are_none(field: str, value: str) -> None:
    fields = {"format": "1", "site": '"north"', "bench": '"bay-3"', "boot": '"b1"', "seq": "7"}
    fields |= {field: value, "body": '{"type":"event","t":1,"event":"x","step":"drain"}'}
    found = misfit(at("event", "{" + ",".join(f'"{k}":{v}' for k, v in fields.items()) + "}"))
    assert (found.number, found.is_of_sequence) == (None, True)


def test_another_bench_s_message_is_put_aside_under_the_topic_s_bench() -> None:
    arrived = numbered(7, EVENT)
    found = misfit(Arrived("drainscale/north/bay-4/event", arrived.payload, RECEIVED_S))
    assert found.number == Number("north", "bay-4", "b1", 7)


@pytest.mark.parametrize("job", ["../etc", "a b", "", "x" * 65, "jöb", "~"])
def test_a_job_id_that_is_no_part_of_an_address_is_put_aside(job: str) -> None:
    found = misfit(numbered(7, EVENT, job=job))
    assert found.number is not None
    assert "job" in found.reason


def test_what_is_too_large_is_told_from_what_is_broken() -> None:
    large = encode_large()
    found = misfit(at("event", large))
    assert (found.kind, found.number) == ("too-large", Number("north", "bay-3", "b1", 7))


def encode_large() -> bytes:
    event = EventTold(t=1.0, event="x" * MAX_BYTES, step="drain")
    return numbered(7, event).payload


def test_a_wrong_topic_has_no_bench() -> None:
    for topic in (
        "drainscale/north/bay-3/event/x",
        "other/north/bay-3/event",
        "drainscale/N/b/event",
    ):
        found = misfit(Arrived(topic, numbered(7, pack(0, 3)).payload, RECEIVED_S))
        assert (found.kind, found.bench_id, found.number) == ("wrong-topic", None, None)
