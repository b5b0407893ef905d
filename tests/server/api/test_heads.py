"""HEAD is taken wherever GET is, and answers the same without a body (RFC 9110, 9.3.2)."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from tests.kit.uplink.brokers import eventually
from tests.kit.uplink.made_up import BAY_3
from tests.server.api.test_patience import FEED, Served, answer, asked, serving
from tests.server.shops import HandClock, Outbox, shop_of

from drainscale_server.api.patience import PatientProtocol
from drainscale_server.store.store import Store

DOCUMENT = "/api/v1/openapi.json"
THERE = {"job": "j-1", "site": BAY_3.site, "bench": BAY_3.bench}
PAGES = ["/", "/new-job", f"/board/{BAY_3.site}/{BAY_3.bench}", "/record-data/j-1",
         "/static/board/css/board.css", "/static/record/record.css", "/healthz", "/readyz",
         "/nothing"]  # fmt: skip


def test_every_address_that_takes_get_takes_head(client: TestClient, done_job: str) -> None:
    document = client.get(DOCUMENT).json()["paths"]
    routes = [path.format(**THERE) for path, taken in document.items() if "get" in taken]
    paths = [one for one in routes if not one.endswith("/feed")] + PAGES
    assert len(paths) > 30
    for path in paths:
        whole, head = client.get(path), client.head(path)
        assert head.status_code == whole.status_code, path
        assert head.headers == whole.headers, path
        assert head.content == b"", path


def test_where_get_is_not_taken_head_is_not_either(client: TestClient, done_job: str) -> None:
    told = client.head("/api/v1/jobs/j-1/order")
    assert (told.status_code, told.headers["allow"]) == (405, "DELETE")


@pytest.fixture
def served(store: Store, tmp_path: Path) -> Iterator[Served]:
    shop = shop_of(store, HandClock(), Outbox(), tmp_path)
    shop.credentials.enrol(BAY_3)
    with serving(shop, PatientProtocol) as served:
        yield served


def test_the_feed_s_head_ends_and_takes_no_viewer_s_place(served: Served) -> None:
    with served.connect() as sock:
        sock.sendall(asked(FEED, "HEAD"))
        told = b""
        while not told.endswith(b"\r\n\r\n"):
            told += sock.recv(65536)
        assert told.startswith(b"HTTP/1.1 200")
        assert b"text/event-stream" in told
        sock.sendall(asked("/healthz"))  # nothing stands in its way on the same connection
        assert answer(sock).startswith(b"HTTP/1.1 200")
        assert eventually(lambda: served.viewers_n() == 0)
