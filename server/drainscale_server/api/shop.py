"""What the routes work with: one shop's store, feed, orders and credentials."""

from collections.abc import Callable
from dataclasses import dataclass

from drainscale.messages.topics import BenchId
from drainscale_server.broker.credentials import Credentials
from drainscale_server.feed.hub import Feed
from drainscale_server.orders.commands import Commands
from drainscale_server.orders.next_job import NextJobs
from drainscale_server.settings.server_file import Settings
from drainscale_server.store.store import Store


@dataclass(frozen=True)
class Shop:
    """One shop.

    Attributes:
        intake_fault: Tells why nothing is taken in at the moment; None if all is well.
        needs_password: Whether the pages ask for one.
        clock: The server's clock, s since 1970-01-01 UTC.
    """

    settings: Settings
    store: Store
    feed: Feed
    commands: Commands
    next_jobs: NextJobs
    credentials: Credentials
    intake_fault: Callable[[], str | None]
    needs_password: bool
    clock: Callable[[], float]

    def benches_known(self) -> set[BenchId]:
        """Name the benches that were ever heard of or are enrolled; blocks on the disk.

        Raises:
            StoreError: The store refuses.
            ServerError: The credentials cannot be read.
        """
        seen = {BenchId(one.site, one.bench) for one in self.store.benches()}
        return seen | self.credentials.benches()
