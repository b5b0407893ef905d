"""Route of a job's samples, for plots."""

from array import array
from collections.abc import Iterator
from math import inf
from typing import Annotated, Literal, get_args

import msgspec
from fastapi import APIRouter, Query
from fastapi.responses import Response

from drainscale_server.api.documents import answers, json_answer
from drainscale_server.api.downsample import kept_places
from drainscale_server.api.jobs import JobId, found, with_samples
from drainscale_server.api.shop import Shop
from drainscale_server.store.store import Store

Measured = Literal["scale", "supply", "pan", "board", "reference", "added"]
Said = Literal["pan-fault", "step"]
UNITS: dict[str, str] = {
    "scale": "count",
    "supply": "count",
    "pan": "Cel",
    "board": "Cel",
    "reference": "Cel",
    "added": "l",
}
MEASURED: tuple[str, ...] = get_args(Measured)
LONGEST_S = 1e9


class Samples(msgspec.Struct, frozen=True, kw_only=True):
    """Samples of one name, in time order.

    Attributes:
        unit: As in SenML (RFC 8428); None for what is said in words.
        samples_n: How many there are in the stretch that was asked for.
        t: Of those that are told, s of the job; of numbers first, lowest, highest and last of each
            column, of words all.
        v: Their values.
    """

    job: str
    name: str
    unit: str | None
    samples_n: int
    t: list[float]
    v: list[float | str]


class _Record(msgspec.Struct, gc=False):
    n: str = ""
    t: float = 0.0
    v: float | None = None
    vs: str | None = None


_RECORDS = msgspec.json.Decoder(list[_Record])


def sample_routes(shop: Shop) -> APIRouter:
    """Make the route."""
    router = APIRouter(tags=["jobs"])

    @router.get("/jobs/{job}/samples", responses=answers(Samples, "The samples"))
    def get_samples(
        job: JobId,
        name: Annotated[Measured | Said, Query(description="As in a recording")] = "scale",
        from_s: Annotated[float, Query(ge=0, le=LONGEST_S, allow_inf_nan=False)] = 0.0,
        to_s: Annotated[float | None, Query(ge=0, le=LONGEST_S, allow_inf_nan=False)] = None,
        columns: Annotated[int, Query(ge=1, le=4000, description="Of the plot")] = 500,
    ) -> Response:
        """Give a job's samples of one name, thinned out for a plot without losing a spike."""
        row = with_samples(shop, found(shop, job))
        end_s = inf if to_s is None else to_s
        if name in MEASURED:
            return json_answer(_numbers(shop.store, row.job, name, (from_s, end_s), columns))
        return json_answer(_words(shop.store, row.job, name, (from_s, end_s)))

    return router


def _numbers(
    store: Store, job: str, name: str, stretch_s: tuple[float, float], columns: int
) -> Samples:
    times_s = array("d")
    values: list[float] = []
    for record in _records(store, job, name, stretch_s):
        if record.v is not None:
            times_s.append(record.t)
            values.append(record.v)
    places = kept_places(times_s, values, columns)
    return Samples(
        job=job,
        name=name,
        unit=UNITS[name],
        samples_n=len(times_s),
        t=[times_s[place] for place in places],
        v=[values[place] for place in places],
    )


def _words(store: Store, job: str, name: str, stretch_s: tuple[float, float]) -> Samples:
    said = [
        (record.t, record.vs)
        for record in _records(store, job, name, stretch_s)
        if record.vs is not None
    ]
    return Samples(
        job=job,
        name=name,
        unit=None,
        samples_n=len(said),
        t=[t for t, _ in said],
        v=[word for _, word in said],
    )


def _records(
    store: Store, job: str, name: str, stretch_s: tuple[float, float]
) -> Iterator[_Record]:
    from_s, to_s = stretch_s
    for payload in store.packs(job, from_s, to_s):
        for record in _RECORDS.decode(payload):
            if record.n == name and from_s <= record.t <= to_s:
                yield record
