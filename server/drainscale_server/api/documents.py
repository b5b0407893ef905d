"""Answers and bodies as typed records, and their schemas in the OpenAPI document.

The records that are encoded and decoded are the ones that the document describes: msgspec makes
both of the same class.
"""

from collections.abc import Callable
from typing import Any, TypeVar

import msgspec
from fastapi import FastAPI, Request
from fastapi.openapi.utils import get_openapi
from fastapi.responses import Response

from drainscale import __version__
from drainscale_server.api.problems import MEDIA_TYPE, Problem, ProblemError

Body = TypeVar("Body")
JSON = "application/json"
_REF = "#/components/schemas/{name}"
_METHODS = ("get", "post", "patch", "delete")

_known: set[type] = {Problem}


def answers(kind: type, description: str, status: int = 200) -> dict[int | str, dict[str, Any]]:
    """Describe what a route answers when all is well."""
    return {status: {"description": description, "content": {JSON: {"schema": _ref(kind)}}}}


def takes(kind: type, media_type: str = JSON) -> dict[str, Any]:
    """Describe the body that a route takes."""
    return {"requestBody": {"required": True, "content": {media_type: {"schema": _ref(kind)}}}}


def says(
    media_type: str, description: str, schema: dict[str, Any] | None = None
) -> dict[int | str, dict[str, Any]]:
    """Describe an answer that is none of our records; a text unless a schema says otherwise."""
    content = {media_type: {"schema": schema or {"type": "string"}}}
    return {200: {"description": description, "content": content}}


def json_answer(record: object, status: int = 200, **headers: str) -> Response:
    """Answer with a record."""
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return Response(msgspec.json.encode(record), status, named, JSON)


async def read_body(request: Request, kind: type[Body], media_type: str = JSON) -> Body:
    """Read a body.

    Raises:
        ProblemError: 415 for another type of content, 422 for what is not of the kind.
    """
    given = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if given != media_type:
        raise ProblemError(415, f"the body has to be {media_type}, not {given or 'untyped'}")
    raw = await request.body()
    try:
        return msgspec.json.decode(raw, type=kind)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise ProblemError(422, f"the body: {error}") from error


def openapi_of(app: FastAPI) -> Callable[[], dict[str, Any]]:
    """Make the function that gives an app's OpenAPI document."""

    def made() -> dict[str, Any]:
        if app.openapi_schema is None:
            app.openapi_schema = _document(app)
        return app.openapi_schema

    return made


def _ref(kind: type) -> dict[str, Any]:
    _known.add(kind)
    (schema,), _ = msgspec.json.schema_components([kind], ref_template=_REF)
    return schema


def _document(app: FastAPI) -> dict[str, Any]:
    document = get_openapi(
        title="drainscale server",
        version=__version__,
        description="Benches, jobs and records of one shop. Errors are problem documents.",
        routes=app.routes,
    )
    kinds = sorted(_known, key=lambda kind: kind.__name__)
    _, schemas = msgspec.json.schema_components(kinds, ref_template=_REF)
    components = document.setdefault("components", {}).setdefault("schemas", {})
    components.update(schemas)
    for unused in ("HTTPValidationError", "ValidationError"):
        components.pop(unused, None)
    for path in document["paths"].values():
        for method in _METHODS:
            if method in path:
                _add_problems(path[method]["responses"])
    return document


def _add_problems(responses: dict[str, Any]) -> None:
    responses.pop("422", None)
    content = {MEDIA_TYPE: {"schema": _REF_PROBLEM}}
    for status, response in responses.items():
        if status.startswith(("4", "5")):
            response.setdefault("content", content)
    responses["default"] = {"description": "What went wrong", "content": content}


_REF_PROBLEM = {"$ref": _REF.format(name="Problem")}
