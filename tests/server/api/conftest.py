"""A shop of the tests, a client of it, and a job that is done."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from tests.kit.uplink.made_up import BAY_3
from tests.server.made_up import service
from tests.server.shops import HandClock, Outbox, client_of, shop_of

from drainscale_server.api.shop import Shop
from drainscale_server.broker import passwords
from drainscale_server.ingest.keeping import Keeper
from drainscale_server.store.store import Store


@pytest.fixture(autouse=True)
def quick_passwords(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hash with little work: nobody guesses here."""
    monkeypatch.setattr(passwords, "_N", 2**4)


@pytest.fixture
def clock() -> HandClock:
    return HandClock()


@pytest.fixture
def outbox() -> Outbox:
    return Outbox()


@pytest.fixture
def shop(store: Store, clock: HandClock, outbox: Outbox, tmp_path: Path) -> Shop:
    return shop_of(store, clock, outbox, tmp_path)


@pytest.fixture
def client(shop: Shop) -> Iterator[TestClient]:
    with client_of(shop) as client:
        yield client


@pytest.fixture
def done_job(store: Store) -> str:
    """A short job of the made-up bench, done."""
    Keeper(store).keep(service())
    assert store.bench(BAY_3.site, BAY_3.bench) is not None
    return "j-1"
