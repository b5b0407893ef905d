"""Whatever bytes come as a body: a clear problem, nothing stored, the app alive."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient
from tests.kit.uplink.made_up import BAY_3
from tests.server.made_up import service
from tests.server.shops import ORDER, HandClock, Outbox, client_of, shop_of

from drainscale_server.ingest.keeping import Keeper
from drainscale_server.store.store import Store

BENCH = f"/api/v1/benches/{BAY_3.site}/{BAY_3.bench}"
GOOD: dict[tuple[str, str], dict[str, Any]] = {
    ("POST", "/api/v1/jobs"): {"site": BAY_3.site, "bench": BAY_3.bench, "job_file": ORDER},
    ("POST", f"{BENCH}/commands"): {"command": "confirm", "step": "drain", "job": "j-1"},
    ("PATCH", "/api/v1/jobs/j-1/record"): {"mileage_km": 12.5, "washers_renewed": ["drain plug"]},
}
PLAIN = st.none() | st.booleans() | st.integers() | st.text(max_size=20)
NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
KEYS = st.text(max_size=8)
JSON = st.recursive(
    PLAIN | NUMBERS,
    lambda part: st.lists(part, max_size=3) | st.dictionaries(KEYS, part, max_size=3),
    max_leaves=8,
)
MANY = settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("bad-bodies")


@pytest.fixture
def store(place: Path) -> Iterator[Store]:
    with Store(place / "store.sqlite") as opened:
        Keeper(opened).keep(service())
        yield opened


@pytest.fixture
def client(store: Store, place: Path) -> Iterator[TestClient]:
    with client_of(shop_of(store, HandClock(), Outbox(), place)) as client:
        yield client


def cut_and_changed(good: dict[str, Any]) -> st.SearchStrategy[bytes]:
    """Bytes near a good body: cut, with bytes put in, or one value of another kind."""
    raw = msgspec.json.encode(good)
    cut = st.integers(0, len(raw) - 1).map(lambda end: raw[:end])
    put_in = st.tuples(st.integers(0, len(raw)), st.binary(min_size=1, max_size=4)).map(
        lambda one: raw[: one[0]] + one[1] + raw[one[0] :]
    )
    other = st.tuples(st.sampled_from(sorted(good)), JSON).map(
        lambda one: msgspec.json.encode(good | {one[0]: one[1]})
    )
    return cut | put_in | other | st.binary(max_size=60) | JSON.map(msgspec.json.encode)


@pytest.mark.parametrize(("method", "path"), list(GOOD))
def test_a_bad_body_is_a_problem_and_nothing_is_stored(
    method: str, path: str, client: TestClient, store: Store
) -> None:
    @MANY
    @given(cut_and_changed(GOOD[method, path]))
    def sent(raw: bytes) -> None:
        before = stored(store)
        told = client.request(
            method, path, content=raw, headers={"content-type": "application/json"}
        )
        assert told.status_code < 500
        if told.status_code >= 400:
            assert told.headers["content-type"] == "application/problem+json"
            assert told.json()["detail"]
            assert stored(store) == before

    sent()
    assert client.get("/healthz").status_code == 200


def stored(store: Store) -> tuple[int, int]:
    """How many jobs there are, and how much stands on the record of the first."""
    return len(store.jobs(limit=200).rows), len(store.history("j-1"))
