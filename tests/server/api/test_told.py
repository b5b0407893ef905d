import pytest
from starlette.testclient import TestClient
from tests.server.made_up import BAY_3, OPENED, numbered
from tests.server.shops import ORDER

from drainscale.messages.records import ResultFormed
from drainscale_server.api.shop import Shop
from drainscale_server.ingest.keeping import Keeper


def test_what_a_job_told_comes_in_time_order(client: TestClient, done_job: str) -> None:
    def told(what: str) -> object:
        return client.get(f"/api/v1/jobs/{done_job}/{what}").json()[what]

    assert told("events") == [
        {"t": 0.5, "event": "flow-started", "step": "drain", "sensor": None, "boot": "b1", "seq": 3}
    ]
    assert told("cues") == [
        {"t": 0.6, "cue": "wait", "reason": "draining", "step": "drain", "boot": "b1", "seq": 4}
    ]
    assert [one["key"] for one in client.get(f"/api/v1/jobs/{done_job}/notes").json()["notes"]] == [
        "fill-plug"
    ]
    assert [one["code"] for one in client.get(f"/api/v1/jobs/{done_job}/faults").json()["faults"]]
    assert told("steps") == [{"step": "drain", "started_t": 0.5}]
    assert told("forecasts") == []


def test_the_final_result_goes_before_the_latest(client: TestClient, done_job: str) -> None:
    told = client.get(f"/api/v1/jobs/{done_job}/result").json()
    assert told["is_final"] is True
    assert told["result"]["net"] == {"volume_20C_L": 0.4}


@pytest.mark.parametrize("odd", [5, "abc", {"t": 1}, [1, None]])
def test_an_answer_of_an_unknown_form_breaks_no_route(
    client: TestClient, shop: Shop, odd: object
) -> None:
    result = {"forecasts": odd, "steps": odd, "drained": odd, "spill": {"volume_L": odd}}
    shape = ResultFormed(t=2.0, is_final=True, result=result)
    Keeper(shop.store).keep([numbered(1, OPENED), numbered(2, shape)])
    assert client.get("/api/v1/jobs/j-1/forecasts").json() == {"forecasts": []}
    bench = f"/api/v1/benches/{BAY_3.site}/{BAY_3.bench}"
    for path in ("/api/v1/jobs/j-1/steps", bench, "/jobs/j-1/record"):
        assert client.get(path).status_code == 200, path


def test_a_job_without_a_result_says_so(client: TestClient, shop: Shop) -> None:
    shop.credentials.enrol(BAY_3)
    body = {"site": BAY_3.site, "bench": BAY_3.bench, "job_file": ORDER}
    job = client.post("/api/v1/jobs", json=body).json()["job"]
    told = client.get(f"/api/v1/jobs/{job}/result", params={"final": "true"})
    assert (told.status_code, told.json()["detail"]) == (404, f"job {job} has no final result yet")
    assert client.get(f"/api/v1/jobs/{job}/recording.sensml").status_code == 409
    assert client.get(f"/api/v1/jobs/{job}/job.toml").status_code == 409
    assert client.get(f"/api/v1/jobs/{job}/samples").json()["samples_n"] == 0
