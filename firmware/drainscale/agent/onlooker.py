"""Somebody who watches a job run: sees what is kept and the figures, changes nothing."""

from collections.abc import Iterable
from typing import Protocol

from drainscale.agent.loop import JobKeeper
from drainscale.core import Live
from drainscale.messages.records import Body
from drainscale.quantities.samples import Sample


class Onlooker(Protocol):
    """Sees a job as it runs, from the loop's own thread: what waits here stops the job."""

    def told(self, body: Body) -> None:
        """See a record that was told: an event, a cue, an answer of the technician's."""
        ...

    def looked(self, live: Live) -> None:
        """See the figures, each time they are formed anew."""
        ...


class WatchedKeeper:
    """Keeps what another keeper keeps, and shows it to an onlooker afterwards.

    Args:
        keeper: Keeps the job.
        onlooker: Watches it.
    """

    def __init__(self, keeper: JobKeeper, onlooker: Onlooker) -> None:
        self._keeper = keeper
        self._onlooker = onlooker

    def samples(self, samples: Iterable[Sample]) -> None:
        """Keep samples; nobody is shown them."""
        self._keeper.samples(samples)

    def tell(self, body: Body) -> None:
        """Keep a numbered record and show it."""
        self._keeper.tell(body)
        self._onlooker.told(body)

    def turn(self, live: Live | None) -> None:
        """End a turn; show the figures if they are new."""
        self._keeper.turn(live)
        if live is not None:
            self._onlooker.looked(live)

    def settle(self, timeout_s: float) -> bool:
        """Wait until all that was told is on the disk, at most so long; True if it is."""
        return self._keeper.settle(timeout_s)

    def status(self) -> str:
        """Return the fields of the keeper's status line."""
        return self._keeper.status()
