import pytest

from drainscale.messages.topics import LEAVES, BenchId
from drainscale_server.broker.rights import SERVER, may_hear, may_publish

OWN, OTHER = BenchId("north", "bay-1"), BenchId("north", "bay-2")


@pytest.mark.parametrize("leaf", sorted(LEAVES))
def test_a_bench_says_what_goes_up_and_hears_what_comes_down(leaf: str) -> None:
    is_upward = LEAVES[leaf].is_upward
    assert may_publish("north/bay-1", OWN.topic(leaf)) is is_upward
    assert may_hear("north/bay-1", OWN.topic(leaf)) is not is_upward


@pytest.mark.parametrize("leaf", sorted(LEAVES))
def test_a_bench_has_no_part_in_another(leaf: str) -> None:
    assert not may_publish("north/bay-1", OTHER.topic(leaf))
    assert not may_hear("north/bay-1", OTHER.topic(leaf))


@pytest.mark.parametrize(
    "topic",
    ["#", "+/+/+/+", "drainscale/#", "drainscale/north/bay-1/#", "drainscale/north/bay-1/+",
     "drainscale/+/+/ack", "$SYS/#", "", "drainscale/north/bay-1/status/x", "x/north/bay-1/status"],
)  # fmt: skip
def test_a_bench_gets_no_wildcard_and_nothing_else(topic: str) -> None:
    assert not may_hear("north/bay-1", topic)
    assert not may_publish("north/bay-1", topic)


@pytest.mark.parametrize("user", ["", "north", "north/", "/bay-1", "north/bay-1/x", "NORTH/bay-1"])
def test_who_is_no_bench_has_no_rights(user: str) -> None:
    assert not may_publish(user, OWN.topic("status"))
    assert not may_hear(user, OWN.topic("ack"))


def test_the_server_has_all_of_ours_and_nothing_else() -> None:
    assert may_publish(SERVER, OWN.topic("ack"))
    assert may_hear(SERVER, "drainscale/+/+/samples")
    assert not may_hear(SERVER, "#")
    assert not may_publish(SERVER, "$SYS/x")
