"""Routes of the record's data: what people put there, typed and bounded, nothing ever lost."""

import logging
from datetime import date
from typing import Annotated, Any, Literal

import msgspec
from fastapi import APIRouter, Path, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import Response
from msgspec import UNSET, Meta, UnsetType

from drainscale_server.api.documents import answers, json_answer, read_body, takes
from drainscale_server.api.problems import no_job
from drainscale_server.api.shop import Shop

Text = Annotated[str, Meta(max_length=200)]
Long = Annotated[str, Meta(max_length=2000)]
T = UnsetType
BOARD = "board"

log = logging.getLogger(__name__)


class Torque(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What was tightened, and how far."""

    part: Annotated[str, Meta(min_length=1, max_length=200)]
    torque_Nm: Annotated[float, Meta(ge=0, le=1000)]


class RecordData(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a person puts on a job's record; ``null`` clears a key, what is left out stays."""

    shop: Text | T | None = UNSET
    vehicle: Text | T | None = UNSET
    model: Text | T | None = UNSET
    unit: Text | T | None = UNSET
    plate: Text | T | None = UNSET
    mileage_km: Annotated[float, Meta(ge=0, le=5e6)] | T | None = UNSET
    technician: Text | T | None = UNSET
    fluid_name: Text | T | None = UNSET
    fluid_lot: Text | T | None = UNSET
    density_origin: Literal["sheet", "measured"] | T | None = UNSET
    old_fluid: Text | T | None = UNSET
    total_capacity_L: Annotated[float, Meta(ge=0.1, le=100)] | T | None = UNSET
    washers_renewed: Annotated[list[Text], Meta(max_length=10)] | T | None = UNSET
    torques: Annotated[list[Torque], Meta(max_length=20)] | T | None = UNSET
    pan_filter: (
        Literal["stays-on", "weighed-apart", "allowance-raised", "not-weighed"] | T | None
    ) = UNSET
    pan_filter_kg: Annotated[float, Meta(ge=0, le=100)] | T | None = UNSET
    drips_note: Text | T | None = UNSET
    scale_calibrated: date | T | None = UNSET
    supply_scale_calibrated: date | T | None = UNSET
    pan_sensor_checked: date | T | None = UNSET
    calibration_reference: Text | T | None = UNSET
    used_oil_L: Annotated[float, Meta(ge=0, le=1000)] | T | None = UNSET
    used_oil_container: Text | T | None = UNSET
    used_oil_log: Text | T | None = UNSET
    remarks: Long | T | None = UNSET


class EntryTold(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that somebody put on the record."""

    key: str
    value: Any
    by: str
    at_s: float


class RecordTold(msgspec.Struct, frozen=True, kw_only=True):
    """What stands on a job's record now, and all that ever stood there, oldest first."""

    job: str
    record: dict[str, Any]
    history: list[EntryTold]


def record_data_routes(shop: Shop) -> APIRouter:
    """Make the routes."""
    router = APIRouter(tags=["record"])
    where = "/jobs/{job}/record"
    Job = Annotated[str, Path(max_length=200)]

    @router.get(where, responses=answers(RecordTold, "What people put on the record"))
    def get_record(job: Job) -> Response:
        """Give what people put on a job's record."""
        return json_answer(_told(shop, job))

    @router.patch(
        where,
        responses=answers(RecordTold, "The record afterwards"),
        openapi_extra=takes(RecordData),
    )
    async def change_record(job: Job, request: Request) -> Response:
        """Put something on a job's record; what stood there before stays in the history."""
        data = await read_body(request, RecordData)
        return json_answer(await run_in_threadpool(_change, shop, job, data))

    return router


def told_values(data: RecordData) -> dict[str, Any]:
    """Give the keys that were given, as plain values."""
    values: dict[str, Any] = msgspec.to_builtins(data)
    return values


def _change(shop: Shop, job: str, data: RecordData) -> RecordTold:
    if shop.store.job(job) is None:
        raise no_job(job)
    values = told_values(data)
    if values:
        shop.store.add_record_entries(job, values, BOARD, shop.clock())
        log.info("job %s: on the record: %s", job, ", ".join(values))
    return _told(shop, job)


def _told(shop: Shop, job: str) -> RecordTold:
    if shop.store.job(job) is None:
        raise no_job(job)
    history = shop.store.history(job)
    return RecordTold(
        job=job,
        record={entry.key: entry.value for entry in history},
        history=[
            EntryTold(key=one.key, value=one.value, by=one.by, at_s=one.at_s) for one in history
        ],
    )
