"""A made-up bench that the tests of this room share."""

import pytest

from drainscale.messages.topics import BenchId


@pytest.fixture
def bench_id() -> BenchId:
    return BenchId("north", "bay-3")
