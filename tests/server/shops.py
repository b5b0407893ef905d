"""A shop without a broker: what would be published is kept; its clock is set by hand."""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from starlette.testclient import TestClient

from drainscale_server.api.shop import Shop
from drainscale_server.app import create_app
from drainscale_server.broker.credentials import Credentials
from drainscale_server.feed.hub import Feed
from drainscale_server.orders.commands import Commands
from drainscale_server.orders.next_job import NextJobs
from drainscale_server.settings.server_file import Settings
from drainscale_server.store.store import Store

PATIENCE_S = 30.0  # a bound for waits that end much earlier
NOW_S = 1_790_181_000.0
ORDER = """
[procedure]
level_method = "standpipe"
window_C = [35.0, 45.0]
allowance_L = 0.6
close_flow_mL_per_min = 60.0
drip_flow_mL_per_min = 3.0
[fluid]
density_kg_per_m3 = 846.0
density_C = 15.0
density_u_kg_per_m3 = 1.5
"""


class HandClock:
    """Shows what it is set to."""

    def __init__(self) -> None:
        self.now_s = NOW_S

    def __call__(self) -> float:
        return self.now_s


class Outbox:
    """Stands where the broker would be."""

    def __init__(self) -> None:
        self.sent: list[tuple[str, bytes, bool]] = []
        self.is_there = True
        self.on_sent: Callable[[str, bytes], None] = lambda _topic, _payload: None

    def publish(self, topic: str, payload: bytes, is_retained: bool) -> bool:
        if self.is_there:
            self.sent.append((topic, payload, is_retained))
            self.on_sent(topic, payload)
        return self.is_there


def shop_of(store: Store, clock: HandClock, outbox: Outbox, folder: Path) -> Shop:
    """Put a shop together whose broker is the outbox."""
    return Shop(
        settings=Settings(),
        store=store,
        feed=Feed(store, clock),
        commands=Commands(outbox.publish, answer_s=0.2),
        next_jobs=NextJobs(store, outbox.publish),
        credentials=Credentials(folder),
        intake_fault=lambda: None if outbox.is_there else "no broker: gone",
        needs_password=False,
        clock=clock,
    )


@contextmanager
def client_of(shop: Shop, url: str = "http://localhost:8080") -> Iterator[TestClient]:
    """Serve a shop's app to a client; the threads that worked for it are gone afterwards.

    An error of ours is an answer to the client, as it is to any other.
    """
    before = set(threading.enumerate())
    app = create_app(shop)
    with TestClient(app, base_url=url, raise_server_exceptions=False) as client:
        yield client
    for thread in set(threading.enumerate()) - before:
        # the package tells its workers to end and does not wait for them
        if thread.name.startswith("AnyIO worker"):
            thread.join(PATIENCE_S)
