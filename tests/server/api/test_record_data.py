from typing import Any

import pytest
from starlette.testclient import TestClient
from tests.server.shops import NOW_S, HandClock

from drainscale_server.store.store import Store


def url(job: str) -> str:
    return f"/api/v1/jobs/{job}/record"


def test_what_is_put_on_the_record_stands_there(client: TestClient, done_job: str) -> None:
    data = {
        "vehicle": "Orvane Tarn 6, 2017",
        "mileage_km": 128_400,
        "washers_renewed": ["drain plug", "level plug"],
        "torques": [{"part": "standpipe", "torque_Nm": 3.5}],
        "scale_calibrated": "2026-11-02",
        "pan_filter": "not-weighed",
    }
    told = client.patch(url(done_job), json=data)
    assert told.status_code == 200
    assert told.json()["record"] == data
    assert client.get(url(done_job)).json() == told.json()
    assert client.get(f"/api/v1/jobs/{done_job}").json()["record"] == data


def test_a_change_keeps_the_rest_and_loses_nothing(
    client: TestClient, done_job: str, clock: HandClock
) -> None:
    client.patch(url(done_job), json={"vehicle": "Tarn", "remarks": "noisy"})
    clock.now_s = NOW_S + 60.0
    told = client.patch(url(done_job), json={"vehicle": None}).json()
    assert told["record"] == {"vehicle": None, "remarks": "noisy"}
    assert [(one["key"], one["value"], one["at_s"]) for one in told["history"]] == [
        ("vehicle", "Tarn", NOW_S),
        ("remarks", "noisy", NOW_S),
        ("vehicle", None, NOW_S + 60.0),
    ]


@pytest.mark.parametrize(
    "data",
    [
        {"milage_km": 1},
        {"mileage_km": -1},
        {"mileage_km": 5_000_001},
        {"mileage_km": "12"},
        {"vehicle": "x" * 201},
        {"remarks": "x" * 2001},
        {"washers_renewed": ["plug"] * 11},
        {"torques": [{"part": "plug"}]},
        {"torques": [{"part": "plug", "torque_Nm": 1, "more": 1}]},
        {"scale_calibrated": "2026-02-30"},
        {"density_origin": "guessed"},
        {"used_oil_L": True},
        [],
        "text",
    ],
)
def test_what_is_out_of_bounds_is_refused_whole(
    data: Any, client: TestClient, done_job: str, store: Store
) -> None:
    told = client.patch(url(done_job), json=data)
    assert told.status_code == 422
    assert store.history(done_job) == []


@pytest.mark.parametrize(
    "raw", [b"", b"{", b"\xff\xfe", b"[" * 100_000, b'{"mileage_km": NaN}', b'{"mileage_km":1e999}']
)
def test_bytes_that_are_no_json_are_refused(raw: bytes, client: TestClient, done_job: str) -> None:
    told = client.patch(url(done_job), content=raw, headers={"content-type": "application/json"})
    assert told.status_code == 422


@pytest.mark.parametrize("kind", ["text/plain", "", "application/x-www-form-urlencoded"])
def test_another_type_of_body_is_refused(kind: str, client: TestClient, done_job: str) -> None:
    # what a page of somebody else's can send without asking first
    told = client.patch(url(done_job), content=b"{}", headers={"content-type": kind})
    assert told.status_code == 415
