from starlette.testclient import TestClient
from tests.kit.uplink.made_up import BAY_3
from tests.server.shops import ORDER

from drainscale_server.api.shop import Shop


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


def test_a_job_without_a_result_says_so(client: TestClient, shop: Shop) -> None:
    shop.credentials.enrol(BAY_3)
    body = {"site": BAY_3.site, "bench": BAY_3.bench, "job_file": ORDER}
    job = client.post("/api/v1/jobs", json=body).json()["job"]
    told = client.get(f"/api/v1/jobs/{job}/result", params={"final": "true"})
    assert (told.status_code, told.json()["detail"]) == (404, f"job {job} has no final result yet")
    assert client.get(f"/api/v1/jobs/{job}/recording.sensml").status_code == 409
    assert client.get(f"/api/v1/jobs/{job}/job.toml").status_code == 409
    assert client.get(f"/api/v1/jobs/{job}/samples").json()["samples_n"] == 0
