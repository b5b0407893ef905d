from typing import Any

import msgspec
import pytest
from starlette.testclient import TestClient
from tests.kit.uplink.made_up import BAY_3
from tests.server.made_up import BODIES, numbered
from tests.server.shops import NOW_S, ORDER, Outbox

from drainscale.messages.codec import decode
from drainscale.messages.telegrams import JobOrder
from drainscale.messages.topics import BenchId
from drainscale_server.api.shop import Shop
from drainscale_server.ingest.keeping import Keeper
from drainscale_server.store.store import Store

JOBS = "/api/v1/jobs"


def new_job(**more: Any) -> dict[str, Any]:
    return {"site": BAY_3.site, "bench": BAY_3.bench, "job_file": ORDER} | more


@pytest.fixture
def enrolled(shop: Shop) -> BenchId:
    shop.credentials.enrol(BAY_3)
    return BAY_3


def test_an_order_is_planned_and_told_with_its_address(
    client: TestClient, enrolled: BenchId
) -> None:
    record = {"vehicle": "Orvane Tarn", "mileage_km": 120_000}
    told = client.post(JOBS, json=new_job(label="blue van", record=record))
    assert told.status_code == 201
    job = told.json()
    assert told.headers["location"] == f"{JOBS}/{job['job']}"
    assert (job["state"], job["label"], job["ordered_s"]) == ("planned", "blue van", NOW_S)
    assert job["procedure"]["window_C"] == [35.0, 45.0]
    assert job["record"] == record
    assert client.get(told.headers["location"]).json() == job
    assert client.post(JOBS, json=new_job(job_file=job["job_file"])).status_code == 201


def test_the_order_goes_to_the_bench_retained_and_is_cleared_once_begun(
    client: TestClient, enrolled: BenchId, shop: Shop, outbox: Outbox, store: Store
) -> None:
    job = client.post(JOBS, json=new_job()).json()["job"]
    shop.next_jobs.say(BAY_3)
    topic, payload, is_retained = outbox.sent[-1]
    assert (topic, is_retained) == (BAY_3.topic("job"), True)
    order = decode(topic, payload)
    assert isinstance(order, JobOrder)
    assert (order.job, order.procedure.allowance_L) == (job, 0.6)
    Keeper(store).keep([numbered(1, BODIES[0], job=job)])
    shop.next_jobs.say(BAY_3)
    assert outbox.sent[-1] == (BAY_3.topic("job"), b"", True)
    assert client.get(f"{JOBS}/{job}").json()["state"] == "open"


def test_the_oldest_order_goes_first_and_the_next_when_that_is_taken_back(
    client: TestClient, enrolled: BenchId, shop: Shop, outbox: Outbox
) -> None:
    first, second = (client.post(JOBS, json=new_job()).json()["job"] for _ in range(2))
    shop.next_jobs.say(BAY_3)
    assert msgspec.json.decode(outbox.sent[-1][1])["job"] == first
    assert client.delete(f"{JOBS}/{first}/order").json()["state"] == "taken-back"
    shop.next_jobs.say(BAY_3)
    assert msgspec.json.decode(outbox.sent[-1][1])["job"] == second


def test_what_a_broker_forgot_is_said_again_and_nothing_is_said_twice(
    client: TestClient, enrolled: BenchId, shop: Shop, outbox: Outbox
) -> None:
    client.post(JOBS, json=new_job())
    outbox.is_there = False
    shop.next_jobs.say(BAY_3)
    assert outbox.sent == []
    outbox.is_there = True
    shop.next_jobs.say(BAY_3)
    shop.next_jobs.say(BAY_3)
    assert len(outbox.sent) == 1
    shop.next_jobs.on_connected()
    shop.next_jobs.say(BAY_3)
    assert len(outbox.sent) == 2


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("window_C = [35.0, 45.0]", "window_C = [45.0, 35.0]"),
         "job_file, line 4: [procedure] window_C = [45.0, 35.0]; allowed: two numbers, rising"),
        (("allowance_L = 0.6", "allowance_l = 0.6"), "did you mean 'allowance_L'"),
        (("[fluid]", "[fluids]"), "unknown key 'fluids'; did you mean 'fluid'"),
        (("drip_flow_mL_per_min = 3.0", "drip_flow_mL_per_min = 90.0"), "below close_flow"),
        (("density_kg_per_m3 = 846.0", "density_kg_per_m3 = nan"), "a number from 600 to 1200"),
        (("[procedure]", "[procedure"), "not TOML"),
    ],
)  # fmt: skip
def test_a_wrong_job_file_is_told_with_line_and_what_is_allowed(
    change: tuple[str, str], said: str, client: TestClient, enrolled: BenchId, store: Store
) -> None:
    told = client.post(JOBS, json=new_job(job_file=ORDER.replace(*change)))
    assert (told.status_code, told.headers["content-type"]) == (422, "application/problem+json")
    assert said in told.json()["detail"]
    assert store.jobs().rows == []


def test_an_order_for_a_bench_that_nobody_knows_is_refused(client: TestClient) -> None:
    told = client.post(JOBS, json=new_job())
    assert told.status_code == 404
    assert "enrol it first" in told.json()["detail"]


@pytest.mark.parametrize(
    "body",
    [
        {},
        new_job(site="North"),
        new_job(bench="bay/3"),
        new_job(label="x" * 81),
        new_job(job_file="x" * 20_001),
        new_job(job_file=None),
        new_job(record={"milage_km": 1}),
        new_job(record={"mileage_km": -1}),
        new_job(more=1),
        [],
        "text",
    ],
)
def test_a_wrong_body_is_refused_and_nothing_is_stored(
    body: Any, client: TestClient, enrolled: BenchId, store: Store
) -> None:
    told = client.post(JOBS, json=body)
    assert told.status_code == 422
    assert told.json()["detail"].startswith("the body: ")
    assert store.jobs().rows == []


def test_a_begun_job_cannot_be_taken_back(client: TestClient, done_job: str) -> None:
    told = client.delete(f"{JOBS}/{done_job}/order")
    assert told.status_code == 409
    assert "only a planned one" in told.json()["detail"]


def test_jobs_are_listed_page_by_page_without_a_gap(client: TestClient, enrolled: BenchId) -> None:
    ordered = [client.post(JOBS, json=new_job(label=f"no {n}")).json()["job"] for n in range(5)]
    seen: list[str] = []
    after: dict[str, str] = {}
    while True:
        page = client.get(JOBS, params={"limit": "2", **after}).json()
        seen += [one["job"] for one in page["jobs"]]
        if page["next"] is None:
            break
        after = {"after": page["next"]}
    assert seen == ordered[::-1]


def test_jobs_are_found_by_state_bench_and_text(
    client: TestClient, enrolled: BenchId, done_job: str
) -> None:
    planned = client.post(JOBS, json=new_job(label="Blue van")).json()["job"]

    def found(**query: Any) -> list[str]:
        return [one["job"] for one in client.get(JOBS, params=query).json()["jobs"]]

    assert found(state="planned") == [planned]
    assert found(state=["planned", "done"]) == [planned, done_job]
    assert found(text="blue") == [planned]
    assert found(bench="bay-9") == []


@pytest.mark.parametrize("query", ["limit=0", "limit=201", "state=begun", "site=No"])
def test_a_wrong_question_is_a_problem(query: str, client: TestClient) -> None:
    assert client.get(f"{JOBS}?{query}").status_code == 422


@pytest.mark.parametrize("cursor", ["!", "bm8", "bm8=", "%00", "_w"])
def test_a_cursor_that_nobody_gave_out_leads_nowhere(cursor: str, client: TestClient) -> None:
    for path in (JOBS, "/api/v1/quarantine"):
        told = client.get(f"{path}?after={cursor}")
        assert (told.status_code, told.json()["detail"]) == (
            404, "there is no page behind this cursor",
        )  # fmt: skip


def test_a_job_that_is_not_there_is_a_problem(client: TestClient) -> None:
    for path in ("", "/events", "/result", "/samples", "/recording.sensml", "/job.toml", "/record"):
        told = client.get(f"{JOBS}/j-none{path}")
        assert told.status_code == 404
        assert told.json()["detail"] == "there is no job 'j-none'"
