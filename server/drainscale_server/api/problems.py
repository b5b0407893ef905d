"""Every error as a problem document, without internals.

Source: RFC 9457 (2023). ``type`` is ``about:blank``, so ``title`` is the phrase of the status and
``detail`` says what it was, in one sentence for whoever asked.
"""

import logging
from collections.abc import Mapping
from http import HTTPStatus

import msgspec
from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from starlette.exceptions import HTTPException
from starlette.routing import Match

from drainscale.errors import InputError, ServerError, StoreError
from drainscale_server.orders.commands import NoAnswerError, NoLinkError

MEDIA_TYPE = "application/problem+json"
METHODS = ("DELETE", "GET", "PATCH", "POST", "PUT")  # HEAD goes where GET does

log = logging.getLogger(__name__)


class Fault(msgspec.Struct, frozen=True):
    """One thing that is wrong with what was asked: where, and what."""

    where: str
    what: str


class Problem(msgspec.Struct, frozen=True, kw_only=True):
    """A problem document."""

    type: str = "about:blank"
    title: str
    status: int
    detail: str
    errors: tuple[Fault, ...] = ()


class ProblemError(Exception):
    """What a route raises to answer with a problem.

    Args:
        status: The HTTP status.
        detail: One sentence for whoever asked.
        errors: What is wrong where.
    """

    def __init__(self, status: int, detail: str, errors: tuple[Fault, ...] = ()) -> None:
        super().__init__(detail)
        self.status = status
        self.detail = detail
        self.errors = errors


def problem(
    status: int,
    detail: str,
    errors: tuple[Fault, ...] = (),
    headers: Mapping[str, str] | None = None,
) -> Response:
    """Answer with a problem."""
    told = Problem(title=HTTPStatus(status).phrase, status=status, detail=detail, errors=errors)
    return Response(msgspec.json.encode(told), status, headers, MEDIA_TYPE)


def add_problem_handlers(app: FastAPI) -> None:
    """Let every error of an app answer so."""
    app.add_exception_handler(ProblemError, _on_problem)
    app.add_exception_handler(HTTPException, _on_http)
    app.add_exception_handler(RequestValidationError, _on_validation)
    app.add_exception_handler(InputError, _on_input)
    app.add_exception_handler(StoreError, _on_store)
    app.add_exception_handler(ServerError, _on_server)
    app.add_exception_handler(NoAnswerError, _on_link)
    app.add_exception_handler(NoLinkError, _on_link)
    app.add_exception_handler(Exception, _on_bug)


def no_job(job: str) -> ProblemError:
    """There is no such job."""
    return ProblemError(404, f"there is no job {job!a}")


def _on_problem(_request: Request, error: Exception) -> Response:
    assert isinstance(error, ProblemError)
    return problem(error.status, error.detail, error.errors)


_SAID = {
    404: "there is nothing at this address",
    405: "this address does not take this method",
}


def _on_http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    phrase = HTTPStatus(error.status_code).phrase
    is_bare = error.detail == phrase
    detail = _SAID.get(error.status_code, phrase) if is_bare else str(error.detail)
    headers = {name.lower(): value for name, value in (error.headers or {}).items()}
    if error.status_code == 405:
        headers["allow"] = ", ".join(_methods_at(request))
    return problem(error.status_code, detail, headers=headers)


def _methods_at(request: Request) -> list[str]:
    """All methods of an address: the framework only tells those of the first route there."""
    taken = [
        method
        for method in METHODS
        if any(
            route.matches(dict(request.scope) | {"method": method})[0] is Match.FULL
            for route in request.app.routes
        )
    ]
    return sorted([*taken, "HEAD"] if "GET" in taken else taken)


def _on_validation(_request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    faults = tuple(
        Fault(".".join(str(part) for part in one["loc"]), str(one["msg"])) for one in error.errors()
    )
    first = faults[0]
    return problem(422, f"{first.where}: {first.what}", faults)


def _on_input(_request: Request, error: Exception) -> Response:
    return problem(422, str(error))


def _on_store(_request: Request, error: Exception) -> Response:
    log.error("store: %s", error)
    return problem(503, "the store cannot be read or written just now")


def _on_server(_request: Request, error: Exception) -> Response:
    return server_problem(error)


def server_problem(error: Exception) -> Response:
    """Answer that a file of the server's own cannot be read: somebody has to look at it."""
    log.error("server: %s", error)
    return problem(503, "the server cannot read a file of its own; its log says which")


def _on_link(_request: Request, error: Exception) -> Response:
    return problem(504 if isinstance(error, NoAnswerError) else 503, str(error))


def _on_bug(request: Request, error: Exception) -> Response:
    log.error("%s %s failed", request.method, request.url.path, exc_info=error)
    return problem(500, "the server made a mistake; its log says which")
