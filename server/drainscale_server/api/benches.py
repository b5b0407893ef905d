"""Routes of the benches: who is there, commands to them, the live feed."""

import logging
from functools import partial
from typing import Annotated, Literal

import msgspec
from fastapi import APIRouter, Path, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import Response, StreamingResponse
from starlette.types import Receive, Scope, Send

from drainscale.messages.telegrams import COMMAND_LIFE_S, Command, Order, Status
from drainscale.messages.topics import BenchId
from drainscale_server.api.documents import answers, json_answer, read_body, says, takes
from drainscale_server.api.problems import ProblemError, no_job
from drainscale_server.api.shop import Shop
from drainscale_server.feed.board_state import BoardState, LinkState
from drainscale_server.feed.compose import compose, link_part
from drainscale_server.feed.hub import Feed
from drainscale_server.feed.stored_part import StoredPart, present_job, read_stored
from drainscale_server.feed.viewer import Viewer
from drainscale_server.orders.commands import new_command_id
from drainscale_server.settings.shop_time import moment
from drainscale_server.store.rows import BenchRow

NAME = r"^[a-z0-9](?:[a-z0-9-]{0,30}[a-z0-9])?$"
Name = Annotated[str, Path(pattern=NAME, description="1 to 32 of a-z, 0-9 and -")]
log = logging.getLogger(__name__)
Text200 = Annotated[str, msgspec.Meta(max_length=200)]


class BenchLine(msgspec.Struct, frozen=True, kw_only=True):
    """A bench in the list; ``last_seen``: in the shop's time, for people."""

    site: str
    bench: str
    state: LinkState
    reason: str
    job: str | None
    label: str
    step: str | None
    cue: str | None
    last_seen_s: float | None
    last_seen: str | None
    kit_version: str | None
    is_enrolled: bool


class Benches(msgspec.Struct, frozen=True):
    """All benches, by site and name."""

    benches: list[BenchLine]


class Press(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A command, with what the person had before them.

    Attributes:
        job: The job's id in this server; None: none was shown.
        gate: Which gate is confirmed; ``ID=ANSWER`` where more than yes is asked.
    """

    command: Order
    step: Annotated[str, msgspec.Meta(min_length=1, max_length=32)]
    job: Annotated[str, msgspec.Meta(max_length=200)] | None = None
    gate: Text200 | None = None


class Verdict(msgspec.Struct, frozen=True, kw_only=True):
    """What became of a command."""

    id: str
    verdict: Literal["accepted", "refused"]
    reason: str


def bench_routes(shop: Shop) -> APIRouter:
    """Make the routes."""
    router = APIRouter(tags=["benches"])
    where = "/benches/{site}/{bench}"

    @router.get("/benches", responses=answers(Benches, "All benches"))
    def list_benches() -> Response:
        """List the benches that were ever heard of or are enrolled."""
        enrolled = shop.credentials.benches()
        rows = {BenchId(one.site, one.bench): one for one in shop.store.benches()}
        lines = [
            _line(shop, bench, rows.get(bench), bench in enrolled)
            for bench in sorted(enrolled | set(rows))
        ]
        return json_answer(Benches(lines))

    @router.get(where, responses=answers(BoardState, "What a board shows"))
    def get_bench(site: Name, bench: Name) -> Response:
        """Give what a board of this bench shows now."""
        known(shop, site, bench)
        now_s = shop.clock()
        stored = read_stored(shop.store, site, bench, now_s)
        return json_answer(compose(site, bench, stored, shop.feed.heard(site, bench), now_s))

    @router.get(
        f"{where}/feed",
        response_class=StreamingResponse,
        responses=says("text/event-stream", _FEED),
    )
    async def follow_bench(site: Name, bench: Name) -> Response:
        """Follow a bench: the whole state first, then the sections that change."""
        await run_in_threadpool(known, shop, site, bench)
        viewer = await shop.feed.open(site, bench)
        if viewer is None:
            raise ProblemError(503, "too many viewers, or the server is about to end")
        return _Followed(shop.feed, viewer)

    @router.post(
        f"{where}/commands", responses=answers(Verdict, "The answer"), openapi_extra=takes(Press)
    )
    async def send_command(site: Name, bench: Name, request: Request) -> Response:
        """Send a command and wait up to five seconds for the bench's answer."""
        press = await read_body(request, Press)
        bench_id = await run_in_threadpool(known, shop, site, bench)
        command = await run_in_threadpool(_command, shop, bench_id, press)
        answer = await shop.commands.send(bench_id, command)
        log.info(
            "%s/%s: %s in step %a, gate %a: %s %a",
            site, bench, press.command, press.step, press.gate, answer.verdict, answer.reason,
        )  # fmt: skip
        return json_answer(Verdict(id=answer.id, verdict=answer.verdict, reason=answer.reason))

    return router


class _Followed(StreamingResponse):
    """A viewer's stream; its place is free again also if not even its headers could be sent."""

    def __init__(self, feed: Feed, viewer: Viewer) -> None:
        super().__init__(feed.stream(viewer), media_type="text/event-stream")
        self._leave = partial(feed.leave, viewer)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        try:
            await super().__call__(scope, receive, send)
        finally:
            self._leave()


_FEED = (
    "Server-sent events. `snapshot`: the whole state, as at `/benches/{site}/{bench}`, first and"
    " whenever the viewer was too slow; `change`: the sections that changed, and `trend_add`,"
    " points to be put behind those of `trend`; `beat`: `now_s`, after a second of silence;"
    " `again`: the stream ends, after ten minutes, and is to be opened anew."
)


def known(shop: Shop, site: str, bench: str) -> BenchId:
    """Make sure that there is such a bench.

    Raises:
        ProblemError: 404 if not.
    """
    bench_id = BenchId(site, bench)
    if bench_id not in shop.benches_known():
        raise ProblemError(404, f"there is no bench {site}/{bench}: enrol it first")
    return bench_id


def _line(shop: Shop, bench: BenchId, row: BenchRow | None, is_enrolled: bool) -> BenchLine:
    heard = shop.feed.heard(bench.site, bench.bench)
    now_s = shop.clock()
    job = present_job(shop.store, bench.site, bench.bench, now_s)
    link = link_part(heard, now_s, None if row is None else row.last_seen_s)
    seen_s = link.last_message_s
    status = heard.status or (None if row is None else row.status)
    state = compose(bench.site, bench.bench, StoredPart(job=job), heard, now_s)
    return BenchLine(
        site=bench.site,
        bench=bench.bench,
        state=link.state,
        reason=link.reason,
        job=None if job is None else job.job,
        label="" if job is None else job.label,
        step=None if state.figures is None else state.figures.step,
        cue=None if state.figures is None or state.cue is None else state.cue.cue,
        last_seen_s=seen_s,
        last_seen=None if seen_s is None else moment(seen_s, shop.settings.zone),
        kit_version=_version(status),
        is_enrolled=is_enrolled,
    )


def _version(status: Status | None) -> str | None:
    return None if status is None else status.kit_version


def _command(shop: Shop, bench: BenchId, press: Press) -> Command:
    """Make the command that goes out: it expires by the kit's own clock."""
    heard = shop.feed.heard(bench.site, bench.bench)
    if heard.boot is None or heard.now_s is None or heard.message_s is None:
        raise ProblemError(409, f"{bench.site}/{bench.bench} was not heard of: nothing was sent")
    silent_s = shop.clock() - heard.message_s
    if silent_s > COMMAND_LIFE_S:
        name = f"{bench.site}/{bench.bench}"
        raise ProblemError(409, f"{name} is silent for {silent_s:.0f} s: nothing was sent")
    kit_job: str | None = None
    if press.job is not None:
        job = shop.store.job(press.job)
        if job is None or (job.site, job.bench) != (bench.site, bench.bench):
            raise no_job(press.job)
        kit_job = job.kit_job
    return Command(
        id=new_command_id(),
        boot=heard.boot,
        job=kit_job,
        step=press.step,
        command=press.command,
        gate=press.gate,
        expires_s=heard.now_s + COMMAND_LIFE_S,
    )
