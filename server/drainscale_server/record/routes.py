"""The record over HTTP: page, document, what to have at hand, the log of used oil."""

import re
from datetime import UTC, tzinfo
from importlib.resources import files
from typing import Annotated, Any, Literal
from urllib.parse import quote

import msgspec
from fastapi import APIRouter, HTTPException, Path, Query, Response
from fastapi.responses import HTMLResponse, StreamingResponse

from drainscale_server.record.building import build
from drainscale_server.record.document import document
from drainscale_server.record.model import ServiceRecord
from drainscale_server.record.page import STYLESHEET, page
from drainscale_server.record.sheet import sheet_of
from drainscale_server.record.sources import gather
from drainscale_server.record.supplies import Supplies, UnknownJobError, supplies
from drainscale_server.record.used_oil import used_oil_csv
from drainscale_server.store.store import Store

Paper = Literal["a4", "letter"]
JobId = Annotated[str, Path(max_length=200, description="Id of the job in this server")]
Answers = dict[int | str, dict[str, Any]]
NO_SUCH_JOB: Answers = {404: {"description": "No such job"}}
AS_PDF: Answers = {200: {"content": {"application/pdf": {}}}}
AS_JSON: Answers = {200: {"content": {"application/json": {}}}}
AS_CSV: Answers = {200: {"content": {"text/csv": {}}}}
NEITHER: Answers = {400: {"description": "Neither model nor job"}}


def record_routes(store: Store, zone: tzinfo = UTC) -> APIRouter:
    """Make the routes; to be mounted without a prefix.

    Args:
        store: Where the jobs are.
        zone: For dates and times of day on the record.
    """
    routes = APIRouter(tags=["record"])
    _add_record(routes, store, zone)
    _add_stylesheet(routes)
    _add_planning(routes, store)
    _add_used_oil(routes, store, zone)
    return routes


def _record(store: Store, job: str) -> ServiceRecord:
    sources = gather(store, job)
    if sources is None:
        raise HTTPException(404, f"there is no job {job!a}")
    return build(sources)


def _add_record(routes: APIRouter, store: Store, zone: tzinfo) -> None:
    @routes.get(
        "/jobs/{job}/record",
        response_class=HTMLResponse,
        responses=NO_SUCH_JOB,
        summary="The service record as a page to print",
    )
    def record_page(job: JobId, paper: Paper = "a4") -> HTMLResponse:
        path = f"/jobs/{quote(job, safe='')}/record.pdf"
        text = page(sheet_of(_record(store, job), zone), paper, path)
        return HTMLResponse(text.encode("utf-8", "replace"))

    @routes.get(
        "/jobs/{job}/record.pdf",
        response_class=Response,
        responses=NO_SUCH_JOB | AS_PDF,
        summary="The service record as PDF",
    )
    def record_document(job: JobId, paper: Paper = "a4") -> Response:
        name = re.sub(r"[^A-Za-z0-9._-]+", "-", job)
        return Response(
            document(sheet_of(_record(store, job), zone), paper),
            media_type="application/pdf",
            headers={"Content-Disposition": f'inline; filename="record-{name}.pdf"'},
        )

    @routes.get(
        "/jobs/{job}/record.json",
        response_class=Response,
        responses=NO_SUCH_JOB | AS_JSON,
        summary="The service record as data, with the curves of its plots",
    )
    def record_data(job: JobId) -> Response:
        return Response(msgspec.json.encode(_record(store, job)), media_type="application/json")


def _add_stylesheet(routes: APIRouter) -> None:
    stylesheet = files("drainscale_server.record").joinpath("static/record.css").read_bytes()

    @routes.get(STYLESHEET, include_in_schema=False)
    def record_stylesheet() -> Response:
        return Response(stylesheet, media_type="text/css")


def _add_planning(routes: APIRouter, store: Store) -> None:
    @routes.get(
        "/api/v1/planning",
        responses=NEITHER | NO_SUCH_JOB,
        summary="Litres, bottles and share of new fluid for the next service of a model",
    )
    def planning(
        model: Annotated[str | None, Query(min_length=1, max_length=200)] = None,
        job: Annotated[str | None, Query(min_length=1, max_length=200)] = None,
        bottle_L: Annotated[float, Query(ge=0.05, le=250.0, allow_inf_nan=False)] = 1.0,
        times: Annotated[int, Query(ge=1, le=12)] = 3,
    ) -> Supplies:
        if model is None and job is None:
            raise HTTPException(400, "name a model of transmission or a job")
        try:
            return supplies(store, model, job, bottle_L, times)
        except UnknownJobError as error:
            raise HTTPException(404, f"there is no job {job!a}") from error


def _add_used_oil(routes: APIRouter, store: Store, zone: tzinfo) -> None:
    @routes.get(
        "/api/v1/used-oil.csv",
        response_class=StreamingResponse,
        responses=AS_CSV,
        summary="The log of used oil",
    )
    def used_oil() -> StreamingResponse:
        return StreamingResponse(
            used_oil_csv(store, zone),
            media_type="text/csv; charset=utf-8; header=present",
            headers={"Content-Disposition": 'attachment; filename="used-oil.csv"'},
        )
