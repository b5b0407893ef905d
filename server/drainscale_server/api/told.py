"""Routes of what a job told: steps, events, cues, notes, faults, result, forecasts."""

from typing import Annotated, Any

import msgspec
from fastapi import APIRouter, Query
from fastapi.responses import Response

from drainscale_server.api.documents import answers, json_answer
from drainscale_server.api.jobs import JobId, found
from drainscale_server.api.problems import ProblemError
from drainscale_server.api.shop import Shop
from drainscale_server.feed.board_state import StepBegun
from drainscale_server.feed.procedure import steps_so_far
from drainscale_server.feed.stored_part import stored_part_of
from drainscale_server.store.rows import CueRow, EventRow, FaultRow, NoteRow


class Steps(msgspec.Struct, frozen=True):
    """The steps of a job in the order in which they began."""

    steps: tuple[StepBegun, ...]


class Events(msgspec.Struct, frozen=True):
    """What the core knew, in time order."""

    events: list[EventRow]


class Cues(msgspec.Struct, frozen=True):
    """What the technician was told, in time order."""

    cues: list[CueRow]


class Notes(msgspec.Struct, frozen=True):
    """Gates confirmed or overridden, ticks, in time order."""

    notes: list[NoteRow]


class Faults(msgspec.Struct, frozen=True):
    """Faults of the kit itself during the job, in time order."""

    faults: list[FaultRow]


class ResultTold(msgspec.Struct, frozen=True):
    """The answer of the service in the form of a replay's, with the further key ``gaps``."""

    is_final: bool
    result: dict[str, Any]


class Forecasts(msgspec.Struct, frozen=True):
    """The forecasts of the answer, in time order; empty while there is no answer yet."""

    forecasts: list[dict[str, Any]]


def told_routes(shop: Shop) -> APIRouter:
    """Make the routes."""
    router = APIRouter(tags=["jobs"])
    where = "/jobs/{job}"

    @router.get(f"{where}/steps", responses=answers(Steps, "The steps"))
    def get_steps(job: JobId) -> Response:
        """Give the steps of a job, by its result or by what was told so far."""
        stored = stored_part_of(shop.store, found(shop, job))
        return json_answer(Steps(steps_so_far(stored, None)))

    @router.get(f"{where}/events", responses=answers(Events, "The events"))
    def get_events(job: JobId) -> Response:
        """Give what the core knew."""
        return json_answer(Events(shop.store.events(found(shop, job).job)))

    @router.get(f"{where}/cues", responses=answers(Cues, "The cues"))
    def get_cues(job: JobId) -> Response:
        """Give what the technician was told."""
        return json_answer(Cues(shop.store.cues(found(shop, job).job)))

    @router.get(f"{where}/notes", responses=answers(Notes, "The notes"))
    def get_notes(job: JobId) -> Response:
        """Give the gates and ticks."""
        return json_answer(Notes(shop.store.notes(found(shop, job).job)))

    @router.get(f"{where}/faults", responses=answers(Faults, "The faults"))
    def get_faults(job: JobId) -> Response:
        """Give the faults of the kit."""
        return json_answer(Faults(shop.store.faults(found(shop, job).job)))

    @router.get(f"{where}/result", responses=answers(ResultTold, "The result"))
    def get_result(
        job: JobId, final: Annotated[bool, Query(description="The final one or none")] = False
    ) -> Response:
        """Give the result: the final one, else the latest before it."""
        told = _result(shop, found(shop, job).job)
        if told is None or (final and not told.is_final):
            raise ProblemError(404, f"job {job} has no {'final ' if final else ''}result yet")
        return json_answer(told)

    @router.get(f"{where}/forecasts", responses=answers(Forecasts, "The forecasts"))
    def get_forecasts(job: JobId) -> Response:
        """Give the forecasts that stand in the result."""
        told = _result(shop, found(shop, job).job)
        listed = None if told is None else told.result.get("forecasts")
        known = listed if isinstance(listed, list) else []  # another kit may mean something else
        return json_answer(Forecasts([one for one in known if isinstance(one, dict)]))

    return router


def _result(shop: Shop, job: str) -> ResultTold | None:
    final = shop.store.result(job, final=True)
    if final is not None:
        return ResultTold(True, final)
    latest = shop.store.result(job, final=False)
    return None if latest is None else ResultTold(False, latest)
