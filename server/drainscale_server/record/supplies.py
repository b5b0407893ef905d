"""What to have at hand for the next service of a model, from this shop's own history."""

from collections.abc import Iterator
from typing import Literal

from pydantic import BaseModel

from drainscale_server.planning.history import predict
from drainscale_server.planning.supply import bottles_to_buy, share_of_new
from drainscale_server.record.answer import Answer, read_answer
from drainscale_server.record.entries import Entries
from drainscale_server.store.store import Store

LOOKED_THROUGH_N = 2000  # of the latest jobs: an old shop's question must not take for ever
METHOD = (
    "Student t prediction interval for one further service (ISO 16269-8:2004, from memory), over "
    "what went into the shop's own finished jobs of this model, litres at 20 °C"
)
METHOD_OF_JOB = "the job's own target: drained + allowance, litres at 20 °C"
SHARE_METHOD = "1 - (1 - drained / total)^n, well mixed in between (common practice, no source)"


class Litres(BaseModel):
    """What goes in, L at 20 °C; null: not known."""

    expected_L: float | None
    low_L: float | None
    high_L: float | None
    coverage: float | None


class NewShare(BaseModel):
    """Share of new fluid after that many drain-and-fills."""

    times: int
    share: float


class Supplies(BaseModel):
    """What to have at hand.

    ``basis``: ``history``: at least three jobs of the model; ``job``: the job's own figures;
    ``none``: neither, so nothing is promised.
    """

    model: str | None
    job: str | None
    basis: Literal["history", "job", "none"]
    method: str | None
    jobs_n: int
    litres: Litres
    bottle_L: float
    bottles: int | None
    drained_20C_L: float | None
    total_capacity_L: float | None
    new_share: list[NewShare]
    new_share_method: str


class UnknownJobError(LookupError):
    """There is no such job."""


def supplies(
    store: Store, model: str | None, job_id: str | None, bottle_L: float, times: int
) -> Supplies:
    """Tell what to have at hand.

    Args:
        store: The shop's history.
        model: Model of transmission; None: that of the job.
        job_id: The job that it is for; None: none yet.
        bottle_L: What one bottle holds.
        times: For how many drain-and-fills the share of new fluid is told.

    Raises:
        UnknownJobError: No such job.
    """
    entries, own = Entries({}), Answer()
    if job_id is not None:
        if store.job(job_id) is None:
            raise UnknownJobError(job_id)
        entries, own = _entries(store, job_id), _answer(store, job_id)
    model = model or entries.text("model")
    past = [] if model is None else list(_past(store, model))
    told = predict([one.added_L for one in past if one.added_L is not None])
    litres = Litres(expected_L=None, low_L=None, high_L=None, coverage=None)
    basis: Literal["history", "job", "none"] = "none"
    method: str | None = None
    target_L = own.refill.target_volume_20C_L
    if told is not None:
        basis, method = "history", METHOD
        litres = Litres(
            expected_L=told.mean_L,
            low_L=told.low_L,
            high_L=told.high_L,
            coverage=told.coverage,
        )
    elif target_L is not None:
        basis, method = "job", METHOD_OF_JOB
        litres = Litres(expected_L=target_L, low_L=None, high_L=None, coverage=None)
    need_L = litres.expected_L if litres.high_L is None else litres.high_L
    drained_L, total_L = _drained(own, past), _total(entries, past)
    return Supplies(
        model=model,
        job=job_id,
        basis=basis,
        method=method,
        jobs_n=sum(1 for one in past if one.added_L is not None),
        litres=litres,
        bottle_L=bottle_L,
        bottles=None if need_L is None else bottles_to_buy(max(need_L, 0.0), bottle_L),
        drained_20C_L=drained_L,
        total_capacity_L=total_L,
        new_share=_shares(drained_L, total_L, times),
        new_share_method=SHARE_METHOD,
    )


class _Past(BaseModel):
    added_L: float | None
    drained_L: float | None
    total_L: float | None


def _past(store: Store, model: str) -> Iterator[_Past]:
    """Give the finished jobs of a model, the latest first."""
    after: str | None = None
    looked_n = 0
    while looked_n < LOOKED_THROUGH_N:
        page = store.jobs(states=("done",), after=after)
        for job in page.rows:
            entries = _entries(store, job.job)
            if (entries.text("model") or "").casefold() == model.strip().casefold():
                yield _of(_answer(store, job.job), entries)
        looked_n += len(page.rows)
        after = page.after
        if after is None:
            return


def _of(answer: Answer, entries: Entries) -> _Past:
    return _Past(
        added_L=answer.refill.added_volume_20C_L,
        drained_L=answer.drained.volume_20C_L,
        total_L=entries.number("total_capacity_L"),
    )


def _entries(store: Store, job_id: str) -> Entries:
    return Entries({key: one.value for key, one in store.record_entries(job_id).items()})


def _answer(store: Store, job_id: str) -> Answer:
    return read_answer(store.result(job_id)) or Answer()


def _drained(own: Answer, past: list[_Past]) -> float | None:
    """What one drain takes out: this job's, else the mean of earlier ones."""
    if own.drained.volume_20C_L is not None:
        return own.drained.volume_20C_L
    known = [one.drained_L for one in past if one.drained_L is not None]
    return sum(known) / len(known) if known else None


def _total(entries: Entries, past: list[_Past]) -> float | None:
    """Total capacity: as told for this job, else as told last for the model."""
    own = entries.number("total_capacity_L")
    if own is not None:
        return own
    return next((one.total_L for one in past if one.total_L is not None), None)


def _shares(drained_L: float | None, total_L: float | None, times: int) -> list[NewShare]:
    if drained_L is None or total_L is None or not 0.0 <= drained_L <= total_L or total_L == 0.0:
        return []
    return [
        NewShare(times=n, share=share_of_new(drained_L, total_L, n)) for n in range(1, times + 1)
    ]
