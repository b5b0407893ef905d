"""The server's web app: every route and what stands before them.

app = create_app(shop)        # any ASGI server runs it
"""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress

from fastapi import FastAPI
from starlette.types import ASGIApp

from drainscale_server.api.benches import bench_routes
from drainscale_server.api.documents import openapi_of
from drainscale_server.api.door import Door
from drainscale_server.api.entry import entry_routes
from drainscale_server.api.exports import export_routes
from drainscale_server.api.guards import KB, Guards
from drainscale_server.api.heads import Heads
from drainscale_server.api.health import health_routes
from drainscale_server.api.jobs import job_routes
from drainscale_server.api.pieces import Pieces
from drainscale_server.api.problems import add_problem_handlers
from drainscale_server.api.procedure import procedure_routes
from drainscale_server.api.record_data import record_data_routes
from drainscale_server.api.samples import sample_routes
from drainscale_server.api.sessions import Sessions
from drainscale_server.api.shop import Shop
from drainscale_server.api.told import told_routes
from drainscale_server.board.routes import board_routes
from drainscale_server.record.routes import record_routes

PREFIX = "/api/v1"


def create_app(shop: Shop) -> ASGIApp:
    """Make the app of a shop."""
    door: Door | None = None
    if shop.needs_password:
        door = Door(shop.credentials, Sessions(shop.credentials, shop.clock))
    return Pieces(guarded(Heads(routes_of(shop, door)), shop, door))


def routes_of(shop: Shop, door: Door | None) -> FastAPI:
    """Make the routes of a shop, with nothing before them."""

    @asynccontextmanager
    async def running(_app: FastAPI) -> AsyncIterator[None]:
        telling = asyncio.create_task(shop.feed.run())
        yield
        shop.feed.close()
        telling.cancel()
        with suppress(asyncio.CancelledError):
            await telling

    app = FastAPI(
        lifespan=running,
        docs_url=None,  # they would fetch scripts from elsewhere
        redoc_url=None,
        openapi_url=f"{PREFIX}/openapi.json",
        redirect_slashes=False,
    )
    for router in (
        bench_routes(shop),
        job_routes(shop),
        told_routes(shop),
        sample_routes(shop),
        export_routes(shop),
        record_data_routes(shop),
        procedure_routes(),
        health_routes(shop),
        entry_routes(door),
    ):
        app.include_router(router, prefix=PREFIX)
    app.include_router(health_routes(shop), include_in_schema=False)
    app.include_router(record_routes(shop.store, shop.settings.zone))
    app.include_router(board_routes())
    add_problem_handlers(app)
    app.openapi = openapi_of(app)  # type: ignore[method-assign]  # FastAPI's own way of doing it
    return app


def guarded(app: ASGIApp, shop: Shop, door: Door | None) -> ASGIApp:
    """Put the guards before an app."""
    web = shop.settings.web
    names = {"localhost", web.host, *web.names}
    return Guards(
        app,
        frozenset(name.lower() for name in names),
        int(web.body_limit_kB * KB),
        door,
        has_tls=shop.settings.tls is not None,
    )
