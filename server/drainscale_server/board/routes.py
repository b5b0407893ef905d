"""The board's routes: the pages, their style and script, and the texts.

The pages hold no data: their script asks the JSON routes and the live feed. So a page can be kept
by the browser, and a restart of the server is nothing but a pause in the feed.
"""

from collections.abc import Mapping

import msgspec
from fastapi import APIRouter, HTTPException, Request, Response

from drainscale_server.board.files import BoardFile, assets, board_file, pages
from drainscale_server.board.texts import texts_of

STATIC = "/static/board"


def board_routes() -> APIRouter:
    """Make the routes of the pages; to be mounted without a prefix."""
    router = APIRouter(include_in_schema=False)
    _add_pages(router, pages())
    _add_assets(router, assets())
    return router


def _add_pages(router: APIRouter, found: Mapping[str, BoardFile]) -> None:
    @router.get("/")
    def benches(request: Request) -> Response:
        return _sent(found["benches"], request)

    @router.get("/board/{site}/{bench}")
    def board(site: str, bench: str, request: Request) -> Response:
        # the page reads both from its own address
        del site, bench
        return _sent(found["board"], request)

    @router.get("/record-data/{job}")
    def record_data(job: str, request: Request) -> Response:
        del job  # as above
        return _sent(found["record-data"], request)

    @router.get("/login")
    def login(request: Request) -> Response:
        return _sent(found["login"], request)

    @router.get("/new-job")
    def new_job(request: Request) -> Response:
        return _sent(found["new-job"], request)


def _add_assets(router: APIRouter, found: Mapping[str, BoardFile]) -> None:
    @router.get(STATIC + "/texts.json")
    def texts(request: Request, lang: str = "en") -> Response:
        content = msgspec.json.encode(texts_of(lang))
        return _sent(board_file(content, "application/json"), request)

    @router.get(STATIC + "/{path:path}")
    def asset(path: str, request: Request) -> Response:
        file = found.get(path)
        if file is None:
            raise HTTPException(404)
        return _sent(file, request)


def _sent(file: BoardFile, request: Request) -> Response:
    headers = {"ETag": file.etag, "Cache-Control": "no-cache"}
    if request.headers.get("If-None-Match") == file.etag:
        return Response(status_code=304, headers=headers)
    return Response(file.content, media_type=file.media_type, headers=headers)
