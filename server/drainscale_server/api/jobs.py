"""Routes of the jobs: listed, ordered from a job file, looked at, taken back."""

import logging
import secrets
from typing import Annotated, Any

import msgspec
from fastapi import APIRouter, Path, Query, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import Response

from drainscale.errors import JobError
from drainscale.messages.telegrams import JobOrder
from drainscale.messages.topics import NAME_RULE, BenchId
from drainscale.quantities.job import FluidSheet, ProcedureLimits
from drainscale.recording.order_file import Order, order_text, parse_order
from drainscale_server.api.benches import NAME, known
from drainscale_server.api.cursors import LONGEST, after_of, cursor_of, no_page
from drainscale_server.api.documents import answers, json_answer, read_body, takes
from drainscale_server.api.problems import ProblemError, no_job
from drainscale_server.api.record_data import RecordData, told_values
from drainscale_server.api.shop import Shop
from drainscale_server.settings.shop_time import moment
from drainscale_server.store.rows import JobRow, JobState

JobId = Annotated[str, Path(max_length=200, description="Id of the job in this server")]
Limit = Annotated[int, Query(ge=1, le=200, description="At most so many")]
After = Annotated[
    str | None, Query(max_length=LONGEST, description="`next` of the page before: go on there")
]
SiteOrBench = Annotated[str, msgspec.Meta(pattern=NAME, description=NAME_RULE)]
PLANNED_N = 20  # waiting for one bench; more than that is a mistake
BOARD = "board"

log = logging.getLogger(__name__)


class JobLine(msgspec.Struct, frozen=True, kw_only=True):
    """A job in the list; ``samples_dropped_s``: since when there is no recording of it."""

    job: str
    site: str
    bench: str
    label: str
    state: JobState
    ordered_s: float | None
    opened_s: float | None
    closed_s: float | None
    samples_dropped_s: float | None
    record: dict[str, Any]


class Jobs(msgspec.Struct, frozen=True):
    """Some jobs, the one heard of last first; ``next``: where the next page begins, if any."""

    jobs: list[JobLine]
    next: str | None


class JobTold(JobLine, frozen=True, kw_only=True):
    """A job.

    Attributes:
        kit_job: What its bench calls it.
        procedure: What its unit asks for; None if nobody knows.
        job_file: The two as the text of a job file: a template for the next one.
    """

    kit_job: str
    base_time_s: float | None
    is_clock_set: bool | None
    kit_version: str | None
    procedure: ProcedureLimits | None
    fluid: FluidSheet | None
    job_file: str | None


class NewJob(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A job to be done.

    Attributes:
        job_file: Text of a job file; ``[procedure]`` and ``[fluid]`` are needed of it.
        record: What goes on its record from the beginning.
    """

    site: SiteOrBench
    bench: SiteOrBench
    job_file: Annotated[str, msgspec.Meta(max_length=20_000)]
    label: Annotated[str, msgspec.Meta(max_length=80)] = ""
    record: RecordData = RecordData()


def job_routes(shop: Shop) -> APIRouter:
    """Make the routes."""
    router = APIRouter(tags=["jobs"])

    @router.get("/jobs", responses=answers(Jobs, "A page of jobs"))
    def list_jobs(
        site: Annotated[str | None, Query(pattern=NAME)] = None,
        bench: Annotated[str | None, Query(pattern=NAME)] = None,
        state: Annotated[list[JobState], Query(description="One of these")] = [],  # noqa: B006
        text: Annotated[str, Query(max_length=80, description="In label or id")] = "",
        limit: Limit = 50,
        after: After = None,
    ) -> Response:
        """List jobs, the one heard of last first."""
        page = shop.store.jobs(site, bench, state, text, _after(shop, after), limit)
        lines = [_line(shop, row) for row in page.rows]
        return json_answer(Jobs(lines, cursor_of(page.after)))

    @router.post(
        "/jobs",
        status_code=201,
        responses=answers(JobTold, "The job, waiting for its bench", 201),
        openapi_extra=takes(NewJob),
    )
    async def order_job(request: Request) -> Response:
        """Order a job: it waits for its bench until that begins it."""
        new = await read_body(request, NewJob)
        row = await run_in_threadpool(_order, shop, new)
        told = await run_in_threadpool(_told, shop, row)
        return json_answer(told, 201, location=f"/api/v1/jobs/{row.job}")

    @router.get("/jobs/{job}", responses=answers(JobTold, "The job"))
    def get_job(job: JobId) -> Response:
        """Give what is known of a job."""
        return json_answer(_told(shop, found(shop, job)))

    @router.delete("/jobs/{job}/order", responses=answers(JobTold, "The job, taken back"))
    def take_back_job(job: JobId) -> Response:
        """Take a job back that no bench has begun."""
        row = found(shop, job)
        if not shop.store.take_back_job(job):
            raise ProblemError(409, f"job {job} is {row.state}: only a planned one is taken back")
        log.info("job %s taken back", row.job)
        shop.next_jobs.look([BenchId(row.site, row.bench)])
        shop.feed.on_news([(row.site, row.bench)])
        return json_answer(_told(shop, found(shop, job)))

    return router


def _after(shop: Shop, cursor: str | None) -> str | None:
    after = None if cursor is None else after_of(cursor)
    if after is not None and shop.store.job(after) is None:
        raise no_page()
    return after


def found(shop: Shop, job: str) -> JobRow:
    """Find a job.

    Raises:
        ProblemError: 404 if there is none.
    """
    row = shop.store.job(job)
    if row is None:
        raise no_job(job)
    return row


def with_samples(shop: Shop, row: JobRow) -> JobRow:
    """Give a job back if its samples are there.

    Raises:
        ProblemError: 410 if they were dropped.
    """
    if row.samples_dropped_s is not None:
        at = moment(row.samples_dropped_s, shop.settings.zone)
        raise ProblemError(
            410,
            f"the samples of job {row.job} were dropped on {at}: this server"
            " keeps them for a time only; the record and the job file are there",
        )
    return row


def order_of(row: JobRow) -> Order | None:
    """Tell what was to be done: as the kit knows it, else as it was ordered."""
    if row.spec is not None:
        return Order(row.spec.procedure, row.spec.fluid)
    return None if row.ordered is None else Order(row.ordered.procedure, row.ordered.fluid)


def _order(shop: Shop, new: NewJob) -> JobRow:
    bench = known(shop, new.site, new.bench)
    order = parse_order(new.job_file, "job_file", JobError)
    waiting = shop.store.jobs(new.site, new.bench, ["planned"], limit=PLANNED_N).rows
    if len(waiting) >= PLANNED_N:
        raise ProblemError(409, f"{PLANNED_N} jobs wait for {new.site}/{new.bench} already")
    asked = JobOrder(
        job=f"j-{secrets.token_hex(6)}",
        procedure=order.procedure,
        fluid=order.fluid,
        label=new.label,
    )
    now_s = shop.clock()
    row = shop.store.plan_job(new.site, new.bench, asked, now_s)
    values = told_values(new.record)
    if values:
        shop.store.add_record_entries(row.job, values, BOARD, now_s)
    log.info("job %s ordered for %s/%s", row.job, new.site, new.bench)
    shop.next_jobs.look([bench])
    shop.feed.on_news([(new.site, new.bench)])
    return row


def _line(shop: Shop, row: JobRow) -> JobLine:
    return JobLine(**_fields(shop, row, JobLine))


def _told(shop: Shop, row: JobRow) -> JobTold:
    order = order_of(row)
    return JobTold(
        **_fields(shop, row, JobTold),
        procedure=None if order is None else order.procedure,
        fluid=None if order is None else order.fluid,
        job_file=None if order is None else order_text(order),
    )


def _fields(shop: Shop, row: JobRow, kind: type[JobLine]) -> dict[str, Any]:
    """What the store's row says of itself, by the names that both have, and its record."""
    both = set(kind.__struct_fields__) & set(row.__struct_fields__)
    record = {key: one.value for key, one in shop.store.record_entries(row.job).items()}
    return {name: getattr(row, name) for name in both} | {"record": record}
