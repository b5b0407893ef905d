"""What is in quarantine, read again: a newer server may understand what an older one could not."""

import logging
from collections import Counter

from drainscale.errors import StoreError
from drainscale_server.ingest.keeping import row_of
from drainscale_server.ingest.reading import Arrived, Numbered, read
from drainscale_server.store.rows import MessageRow, QuarantineRow
from drainscale_server.store.store import Store

_log = logging.getLogger(__name__)


def reread(store: Store) -> Counter[str]:
    """Store what can be read now; the rest stays in quarantine.

    To be called before anything is taken in: it may fill holes.

    Returns:
        How many were taken out of quarantine (``reread``), and how many still can't be stored.
    """
    counts: Counter[str] = Counter()
    after: str | None = None
    while True:
        page = store.quarantined(after)
        for row in page.rows:
            counts += _reread(store, row)
        after = page.after
        if after is None:
            return counts


def _reread(store: Store, row: QuarantineRow) -> Counter[str]:
    if row.kind == "conflict" or row.size != len(row.payload):
        return Counter()
    arrived = Arrived(row.topic, row.payload, row.received_s)
    what = read(arrived)
    if not isinstance(what, Numbered):
        return Counter()
    try:
        return _take_out(store, row, row_of(arrived, what), what)
    except StoreError:
        raise
    except Exception:  # noqa: BLE001 - it was kept aside because it does that; it stays there
        _log.exception("quarantine: number %d still can't be stored", row.place)
        return Counter({"still-unstorable": 1})


def _take_out(
    store: Store, quarantined: QuarantineRow, row: MessageRow, what: Numbered
) -> Counter[str]:
    with store.writing() as writing:
        added = writing.add(row)
        if added == "conflict":
            return Counter()
        if added == "stored":
            writing.derive(row, what.envelope.body)
        writing.release(quarantined.place)
        counts = Counter({"reread": 1})
        writing.count(counts)
    return counts
