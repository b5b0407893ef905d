"""The circuit as it is, and with one thing changed."""

from collections.abc import Callable

import pytest

from electrical.netlist import NETS_PATH, PINS_PATH, Bench, bench, read_bench
from products import ROOT

PINS_TEXT = (ROOT / PINS_PATH).read_text(encoding="utf-8")
NETS_TEXT = (ROOT / NETS_PATH).read_text(encoding="utf-8")

Altered = Callable[..., Bench]


@pytest.fixture(scope="session")
def kit() -> Bench:
    """The kit's own circuit."""
    return bench()


def swapped(text: str, changes: tuple[tuple[str, str], ...]) -> str:
    for old, new in changes:
        assert old in text, f"{old!r} is not there to be changed"
        text = text.replace(old, new, 1)
    return text


@pytest.fixture
def altered() -> Altered:
    """Return the circuit with texts of its sources replaced, each once."""

    def make(
        nets: tuple[tuple[str, str], ...] = (), pins: tuple[tuple[str, str], ...] = ()
    ) -> Bench:
        return read_bench(swapped(PINS_TEXT, pins), swapped(NETS_TEXT, nets))

    return make


@pytest.fixture
def red_on_26(altered: Altered) -> Bench:
    """The red lamp moved to another pin of the board."""
    return altered(
        pins=(("red = 22", "red = 26"), ("bcm = 22\nheader = 15", "bcm = 26\nheader = 37"))
    )
