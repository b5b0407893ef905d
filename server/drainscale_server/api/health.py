"""Routes about the server itself: whether it lives, whether it is ready, what it could not read."""

import msgspec
from fastapi import APIRouter
from fastapi.responses import Response

from drainscale.errors import StoreError
from drainscale_server.api.cursors import after_of, cursor_of, no_page
from drainscale_server.api.documents import answers, json_answer
from drainscale_server.api.jobs import After, Limit
from drainscale_server.api.shop import Shop
from drainscale_server.store.rows import QuarantineRow

PREVIEW_BYTES = 400


class Alive(msgspec.Struct, frozen=True):
    """The process answers."""

    status: str = "alive"


class Ready(msgspec.Struct, frozen=True, kw_only=True):
    """Whether it can do its work; what is not ``ok`` says why.

    Attributes:
        intake: Whether what the benches say is taken in: broker and disk.
        faults: What happened and somebody should look at, though it goes on.
    """

    is_ready: bool
    store: str
    intake: str
    faults: tuple[str, ...]
    counters: dict[str, int]


class Misfit(msgspec.Struct, frozen=True, kw_only=True):
    """A message that could not be read or stored; ``begins``: its first bytes, as text."""

    place: int
    received_s: float
    kind: str
    reason: str
    topic: str
    boot: str | None
    seq: int | None
    size: int
    repeats_n: int
    begins: str


class Quarantine(msgspec.Struct, frozen=True):
    """What could not be read, oldest first; ``next``: where the next page begins, if any."""

    quarantine: list[Misfit]
    next: str | None


def health_routes(shop: Shop) -> APIRouter:
    """Make the routes."""
    router = APIRouter(tags=["server"])

    @router.get("/healthz", responses=answers(Alive, "The process answers"))
    async def is_alive() -> Response:
        """Tell that the process answers; asks nothing else."""
        return json_answer(Alive())

    ready = answers(Ready, "It is ready") | answers(Ready, "It is not ready", 503)

    @router.get("/readyz", responses=ready)
    def is_ready() -> Response:
        """Tell whether the store is there and what the benches say is taken in."""
        told = _ready(shop)
        return json_answer(told, 200 if told.is_ready else 503)

    @router.get("/quarantine", responses=answers(Quarantine, "A page of the quarantine"))
    def list_quarantine(limit: Limit = 50, after: After = None) -> Response:
        """List what could not be read, oldest first."""
        place = None if after is None else after_of(after)
        if place is not None and not (place.isascii() and place.isdecimal() and len(place) < 19):
            raise no_page()
        page = shop.store.quarantined(place, limit)
        return json_answer(Quarantine([_misfit(row) for row in page.rows], cursor_of(page.after)))

    return router


def _ready(shop: Shop) -> Ready:
    store, counters = "ok", {}
    try:
        shop.store.check()
        counters = shop.store.counters()
    except StoreError:
        store = "cannot be read"  # the log says more
    intake = shop.intake_fault() or "ok"
    return Ready(
        is_ready=store == intake == "ok",
        store=store,
        intake=intake,
        faults=shop.store.file_faults,
        counters=counters,
    )


def _misfit(row: QuarantineRow) -> Misfit:
    told = {name: getattr(row, name) for name in Misfit.__struct_fields__ if name != "begins"}
    return Misfit(**told, begins=row.payload[:PREVIEW_BYTES].decode("utf-8", "replace"))
