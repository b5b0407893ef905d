import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.errors import MessageError
from drainscale.messages.records import BODIES
from drainscale.messages.topics import LEAVES, BenchId, split_topic

# MQTT 3.1.1 (OASIS, 2014), 4.7.1: what a topic to publish on must not hold
WILDCARDS = "+#\0"
# RFC 8428, section 4.5.1: what a resolved SenML name may consist of
SENML_NAME = set("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-:./_")

names = st.from_regex(r"[a-z0-9]([a-z0-9-]{0,30}[a-z0-9])?", fullmatch=True)


@given(names, names, st.sampled_from(sorted(LEAVES)))
def test_topic_tells_bench_and_leaf_again(site: str, bench: str, leaf: str) -> None:
    topic = BenchId(site, bench).topic(leaf)
    assert split_topic(topic) == (BenchId(site, bench), leaf)
    assert not set(topic) & set(WILDCARDS)


@given(names, names)
def test_base_name_is_made_of_what_senml_allows(site: str, bench: str) -> None:
    name = BenchId(site, bench).base_name
    assert set(name) <= SENML_NAME
    assert name[0].isalnum()


def test_no_two_benches_share_a_base_name() -> None:
    assert BenchId("a-b", "c").base_name != BenchId("a", "b-c").base_name


@pytest.mark.parametrize(
    "name", ["", "-a", "a-", "A", "a/b", "+", "#", "a.b", "é", "a" * 33, "a\n"]
)
def test_name_that_would_break_a_topic_is_refused(name: str) -> None:
    with pytest.raises(MessageError, match="1 to 32"):
        BenchId("north", name)


@pytest.mark.parametrize(
    "topic",
    ["", "drainscale", "drainscale/north/bay-3", "drainscale/north/bay-3/status/x",
     "other/north/bay-3/status", "drainscale/north/bay-3/weather", "drainscale/+/bay-3/status"],
)  # fmt: skip
def test_topic_of_somebody_else_is_refused(topic: str) -> None:
    with pytest.raises(MessageError):
        split_topic(topic)


def test_unknown_leaf_is_a_bug(bench_id: BenchId) -> None:
    with pytest.raises(KeyError):
        bench_id.topic("weather")


def test_the_numbered_leaves_are_the_bodies() -> None:
    assert {leaf for leaf, how in LEAVES.items() if how.is_numbered} == set(BODIES)


def test_only_state_is_retained_and_no_command_is() -> None:
    assert {leaf for leaf, how in LEAVES.items() if how.is_retained} == {"status", "job"}
