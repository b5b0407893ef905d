"""Routes of log-in and log-out."""

import logging

import msgspec
from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import Response

from drainscale_server.api.documents import answers, json_answer, read_body, takes
from drainscale_server.api.door import Door
from drainscale_server.api.problems import ProblemError
from drainscale_server.api.sessions import cookie_of

log = logging.getLogger(__name__)


class Session(msgspec.Struct, frozen=True, kw_only=True):
    """How a browser stands.

    Attributes:
        is_needed: Whether others than this machine are asked for a password at all.
        is_open: Whether this browser has a session.
    """

    is_needed: bool
    is_open: bool


class LogIn(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What opens a session."""

    password: str


def entry_routes(door: Door | None) -> APIRouter:
    """Make the routes; None: nobody is asked for a password."""
    router = APIRouter(tags=["session"])

    @router.get("/session", responses=answers(Session, "How it stands"))
    async def get_session(request: Request) -> Response:
        """Tell whether a password is needed, and whether this browser is logged in."""
        is_open = door is not None and door.session_of(request.headers) is not None
        return json_answer(Session(is_needed=door is not None, is_open=is_open))

    @router.post(
        "/session", responses=answers(Session, "It is open now"), openapi_extra=takes(LogIn)
    )
    async def log_in(request: Request) -> Response:
        """Open a session: its token comes as a cookie."""
        asked = await read_body(request, LogIn)
        if door is None:
            raise ProblemError(409, "no password is needed: this machine only is served")
        if not await door.is_password(asked.password):
            log.warning("wrong password from %s", _who(request))
            raise ProblemError(403, "that is not the password of the pages")
        token = await run_in_threadpool(door.sessions.open)
        log.info("%s logged in", _who(request))
        told = Session(is_needed=True, is_open=True)
        return json_answer(told, set_cookie=cookie_of(token))

    @router.delete("/session", responses=answers(Session, "It is over"))
    async def log_out(request: Request) -> Response:
        """End the session of this browser."""
        token = None if door is None else door.session_of(request.headers)
        if door is not None and token is not None:
            await run_in_threadpool(door.sessions.close, token)
        return _over(door)

    @router.delete("/sessions", responses=answers(Session, "All are over"))
    async def log_out_everywhere(request: Request) -> Response:
        """End the sessions of all browsers, this one's as well."""
        if door is not None:
            await run_in_threadpool(door.sessions.close_all)
            log.info("%s logged everybody out", _who(request))
        return _over(door)

    return router


def _over(door: Door | None) -> Response:
    told = Session(is_needed=door is not None, is_open=False)
    return json_answer(told, set_cookie=cookie_of(""))


def _who(request: Request) -> str:
    return "?" if request.client is None else request.client.host
