"""The page of the messages under test: every leaf, way of sending and field has its entry."""

import re
from pathlib import Path

import pytest

from drainscale.messages.codec import decode, encode
from drainscale.messages.records import BODIES, Envelope, Samples
from drainscale.messages.telegrams import (
    Ack,
    Command,
    CommandAnswer,
    Figures,
    JobOrder,
    Kept,
    Live,
    Status,
)
from drainscale.messages.topics import LEAVES

PAGE = Path(__file__).parents[3] / "docs" / "reference" / "messages.md"
TEXT = PAGE.read_text(encoding="utf-8")
TELEGRAMS = {
    "status": (Status, Kept), "live": (Live, Figures), "answer": (CommandAnswer,), "ack": (Ack,),
    "job": (JobOrder,), "command": (Command,),
}  # fmt: skip
YES_NO = {True: "yes", False: "no"}


def row(leaf: str, part: str) -> str:
    section = next(text for text in TEXT.split("\n## ") if text.startswith(part))
    return next(line for line in section.splitlines() if line.startswith(f"| `{leaf}` |"))


@pytest.mark.parametrize("leaf", sorted(LEAVES))
def test_every_leaf_is_listed_as_it_is_sent(leaf: str) -> None:
    cells = [cell.strip() for cell in row(leaf, "Topics").split("|")[2:6]]
    how = LEAVES[leaf]
    way = "up" if how.is_upward else "down"
    assert cells == [way, YES_NO[how.is_numbered], str(how.qos), YES_NO[how.is_retained]]


@pytest.mark.parametrize("leaf", sorted(set(BODIES) - {"samples"}))
def test_every_field_of_a_body_is_on_the_page(leaf: str) -> None:
    fields = BODIES[leaf].__struct_fields__
    assert [name for name in fields if f"`{name}`" not in row(leaf, "Numbered")] == []


@pytest.mark.parametrize("leaf", sorted(TELEGRAMS))
def test_every_field_without_a_number_is_on_the_page(leaf: str) -> None:
    rest = TEXT if leaf == "status" else row(leaf, "Messages without")
    fields = [name for kind in TELEGRAMS[leaf] for name in kind.__struct_fields__]
    unsaid = [n for n in fields if f"`{n}`" not in rest and f'"{n}"' not in rest]
    assert unsaid in (["format"], [])  # said once for all


def test_examples_of_the_page_are_messages() -> None:
    event, pack = re.findall(r"```json\n(.*?)```", TEXT, re.DOTALL)
    first = decode("drainscale/north/bay-3/event", event.encode())
    second = decode("drainscale/north/bay-3/samples", pack.encode())
    assert isinstance(first, Envelope)
    assert isinstance(second, Envelope)
    assert isinstance(second.body, Samples)
    assert second.body.ignored_n == 0
    assert encode(second) == pack.replace("\n", "").replace(" ", "").encode()
