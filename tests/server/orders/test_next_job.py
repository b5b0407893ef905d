import queue

import pytest
from tests.kit.messages.examples import JOB
from tests.kit.uplink.made_up import BAY_3
from tests.server.made_up import OPENED, numbered

from drainscale.messages.codec import decode
from drainscale.messages.telegrams import JobOrder
from drainscale_server.ingest.keeping import Keeper
from drainscale_server.orders.next_job import NextJobs, next_planned
from drainscale_server.store.store import Store

PATIENCE_S = 20.0
Said = queue.Queue[tuple[str, bytes, bool]]


def planned(store: Store, *jobs: str) -> None:
    for job in jobs:
        order = JobOrder(job=job, procedure=JOB.procedure, fluid=JOB.fluid)
        store.plan_job(BAY_3.site, BAY_3.bench, order, 1.0)


@pytest.fixture
def said() -> Said:
    return queue.Queue()


def orders_to(store: Store, said: Said) -> NextJobs:
    def publish(topic: str, payload: bytes, is_retained: bool) -> bool:
        said.put((topic, payload, is_retained))
        return True

    return NextJobs(store, publish)


def test_the_oldest_of_many_is_next(store: Store) -> None:
    planned(store, *(f"j-{n}" for n in range(120)))  # more than a page of the store
    found = next_planned(store, BAY_3)
    assert found is not None
    assert found.job == "j-0"


def test_in_its_thread_it_says_what_is_next_when_it_is_told_to_look(
    store: Store, said: Said
) -> None:
    planned(store, "j-1", "j-2")
    orders = orders_to(store, said)
    orders.start()
    try:
        orders.on_connected()
        topic, payload, is_retained = said.get(timeout=PATIENCE_S)
        order = decode(topic, payload)
        assert isinstance(order, JobOrder)
        assert (order.job, is_retained) == ("j-1", True)
        Keeper(store).keep([numbered(1, OPENED, job="j-1")])
        orders.look([BAY_3])
        assert b'"j-2"' in said.get(timeout=PATIENCE_S)[1]
        store.take_back_job("j-2")
        orders.look([BAY_3])
        assert said.get(timeout=PATIENCE_S) == (BAY_3.topic("job"), b"", True)
    finally:
        orders.stop()


def test_a_store_that_refuses_ends_nothing(store: Store, said: Said) -> None:
    planned(store, "j-1")
    orders = orders_to(store, said)
    orders.start()
    try:
        store.close()
        orders.look([BAY_3])
        orders.look([BAY_3])
    finally:
        orders.stop()
    assert said.empty()


def test_stopping_what_never_ran_is_harmless(store: Store, said: Said) -> None:
    orders_to(store, said).stop()
