"""Fixtures of the server's tests: a store, and brokers of either kind."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.kit.uplink.conftest import (  # noqa: F401 - fixtures
    a_mosquitto,
    an_amqtt,
    broker,
    cable,
    certificate,
    secured,
    spool,
    writer,
)

from drainscale_server.store.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "store.sqlite") as store:
        yield store
