"""The routes, in the server's whole app."""

import csv
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from starlette.testclient import TestClient
from tests.server.record.conftest import ENTRIES, JOB, RECEIVED_S, arrivals
from tests.server.shops import HandClock, Outbox, client_of, shop_of

from drainscale_server.ingest.keeping import Keeper
from drainscale_server.ingest.reading import Arrived
from drainscale_server.record.page import STYLESHEET
from drainscale_server.settings.server_file import Settings, ShopPlace
from drainscale_server.store.store import Store


@pytest.fixture
def client(store: Store, tmp_path: Path) -> Iterator[TestClient]:
    Keeper(store).keep(arrivals("standpipe"))
    store.add_record_entries(JOB, ENTRIES, "board", RECEIVED_S)
    with client_of(shop_of(store, HandClock(), Outbox(), tmp_path)) as opened:
        yield opened
    for thread in threading.enumerate():
        if thread.name == "AnyIO worker thread":  # told to stop, but not waited for
            thread.join(10.0)


@pytest.fixture
def serviced(store: Store) -> Callable[[str, dict[str, Any]], None]:
    """Keep the same service once more, under another id and with other entries."""

    def keep(job: str, entries: dict[str, Any]) -> None:
        told = [
            Arrived(
                one.topic,
                one.payload.replace(b"j-made", job.encode()).replace(b"made", job.encode()),
                RECEIVED_S,
            )
            for one in arrivals("standpipe")
        ]
        Keeper(store).keep(told)
        store.add_record_entries(job, entries, "board", RECEIVED_S)

    return keep


def test_the_page_links_its_stylesheet_and_its_document(client: TestClient) -> None:
    answer = client.get(f"/jobs/{JOB}/record")
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("text/html")
    assert STYLESHEET in answer.text
    assert f'href="/jobs/{JOB}/record.pdf?paper=a4"' in answer.text
    style = client.get(STYLESHEET)
    assert style.headers["content-type"].startswith("text/css")
    assert "@page" in style.text


@pytest.mark.parametrize(("paper", "width"), [("a4", 595.28), ("letter", 612.0)])
def test_the_document_comes_on_the_paper_asked_for(
    client: TestClient, paper: str, width: float
) -> None:
    answer = client.get(f"/jobs/{JOB}/record.pdf", params={"paper": paper})
    assert answer.headers["content-type"] == "application/pdf"
    pages = PdfReader(BytesIO(answer.content)).pages
    assert float(pages[0].mediabox.width) == pytest.approx(width, abs=0.1)


def test_the_record_comes_as_data_too(client: TestClient, store: Store) -> None:
    told = client.get(f"/jobs/{JOB}/record.json").json()
    result = store.result(JOB)
    assert result is not None
    assert told["volumes"]["drained"]["value_L"] == result["drained"]["volume_20C_L"]


@pytest.mark.parametrize("path", ["record", "record.pdf", "record.json"])
def test_a_job_that_is_not_there_is_not_found(client: TestClient, path: str) -> None:
    answer = client.get(f"/jobs/nobody<b>/{path}")
    assert answer.status_code == 404
    assert answer.headers["content-type"] == "application/problem+json"
    assert "<b>" not in answer.headers.get("content-disposition", "")


def test_what_is_typed_over_the_api_stands_on_the_record(client: TestClient) -> None:
    told = {
        "vehicle": "Bressan Alp 8",
        "torques": [{"part": "fill plug", "torque_Nm": 30}],
        "scale_calibrated": "2026-11-20",
    }
    assert client.patch(f"/api/v1/jobs/{JOB}/record", json=told).status_code == 200
    text = client.get(f"/jobs/{JOB}/record").text
    for words in ("Bressan Alp 8", "fill plug: 30 N·m (22.1 lbf·ft)", "2026-11-20"):
        assert words in text


def test_the_page_allows_nothing_but_this_server(client: TestClient) -> None:
    policy = client.get(f"/jobs/{JOB}/record").headers["content-security-policy"]
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy


def test_paper_of_another_size_is_refused(client: TestClient) -> None:
    assert client.get(f"/jobs/{JOB}/record.pdf", params={"paper": "a3"}).status_code == 422


def test_with_one_job_of_the_model_only_its_own_target_is_told(client: TestClient) -> None:
    told = client.get("/api/v1/planning", params={"job": JOB, "bottle_L": 0.5}).json()
    assert (told["basis"], told["jobs_n"], told["model"]) == ("job", 1, "Tarn 6-speed")
    assert told["litres"]["low_L"] is None
    assert told["litres"]["expected_L"] == pytest.approx(3.204396)
    assert told["bottles"] == 7


def test_from_three_jobs_on_an_interval_is_told(
    client: TestClient, serviced: Callable[[str, dict[str, Any]], None]
) -> None:
    serviced("j-two", {"model": "TARN 6-SPEED"})
    serviced("j-three", {"model": "tarn 6-speed "})
    serviced("j-four", {"model": "another"})
    told = client.get("/api/v1/planning", params={"model": "Tarn 6-speed"}).json()
    assert (told["basis"], told["jobs_n"]) == ("history", 3)
    # all three took the same, so the interval has no width
    assert told["litres"]["low_L"] == pytest.approx(told["litres"]["expected_L"])
    assert told["litres"]["expected_L"] == pytest.approx(3.326, abs=0.02)
    assert told["bottles"] == 4
    share = told["drained_20C_L"] / 7.1
    assert [one["share"] for one in told["new_share"]] == pytest.approx(
        [1 - (1 - share) ** n for n in (1, 2, 3)]
    )


def test_of_a_model_that_nobody_knows_nothing_is_promised(client: TestClient) -> None:
    told = client.get("/api/v1/planning", params={"model": "unheard of"}).json()
    assert (told["basis"], told["bottles"], told["new_share"]) == ("none", None, [])
    assert set(told["litres"].values()) == {None}


@pytest.mark.parametrize(
    ("asked", "status"),
    [
        ({}, 400),
        ({"job": "nobody"}, 404),
        ({"model": "x", "bottle_L": 0}, 422),
        ({"model": ""}, 422),
    ],
)
def test_a_question_that_makes_no_sense_is_refused(
    client: TestClient, asked: dict[str, Any], status: int
) -> None:
    assert client.get("/api/v1/planning", params=asked).status_code == status


def _log(client: TestClient) -> list[dict[str, str]]:
    answer = client.get("/api/v1/used-oil.csv")
    assert answer.headers["content-type"].startswith("text/csv")
    return list(csv.DictReader(StringIO(answer.text, newline="")))


def test_the_log_of_used_oil_has_a_line_for_each_job(client: TestClient, store: Store) -> None:
    (line,) = _log(client)
    result = store.result(JOB)
    assert result is not None
    drained, spilled = result["drained"]["volume_20C_L"], result["spill"]["volume_20C_L"]
    assert line["begun"] == "2027-01-15 08:00:00 UTC"
    assert float(line["drained_20C_L"]) == pytest.approx(drained, abs=5e-5)
    assert float(line["used_oil_L"]) == pytest.approx(drained + spilled, abs=1e-4)
    assert (line["used_oil_container"], line["used_oil_log"]) == ("drum 3", "2026-118")


def test_a_long_log_is_whole(client: TestClient, store: Store) -> None:
    opened = arrivals("standpipe")[0]
    closed = (
        b'{"format":1,"site":"north","bench":"bay-1","boot":"made","seq":2,"job":"j-made",'
        b'"body":{"type":"job-closed","t":9.0,"outcome":"aborted"}}'
    )
    topic = opened.topic.replace("job-opened", "job-closed")
    for n in range(60):
        told = [(opened.topic, opened.payload), (topic, closed)]
        Keeper(store).keep(
            [Arrived(to, what.replace(b"made", b"m%d" % n), RECEIVED_S) for to, what in told]
        )
    lines = _log(client)
    assert len({line["job"] for line in lines}) == len(lines) == 61
    assert {line["used_oil_L"] for line in lines if line["state"] == "aborted"} == {""}


@pytest.mark.parametrize("sign", ["=", "+", "-", "@"])
def test_no_cell_is_taken_for_a_formula(client: TestClient, store: Store, sign: str) -> None:
    hostile = f'{sign}cmd|"/c calc"!A1, "quoted"'
    store.add_record_entry(JOB, "vehicle", hostile, "board", RECEIVED_S)
    (line,) = _log(client)
    assert line["vehicle"] == f"'{hostile}"


def test_a_record_may_hold_anything_that_json_can(client: TestClient, store: Store) -> None:
    told: list[Any] = [None, [], {"a": 1}, "x" * 3000, 1e300, True, "\x00\u202e"]
    for shift in (0, 3):
        entries = {key: told[(i + shift) % len(told)] for i, key in enumerate(ENTRIES)}
        store.add_record_entries(JOB, entries, "board", RECEIVED_S)
        for path in ("record", "record.pdf", "record.json"):
            assert client.get(f"/jobs/{JOB}/{path}").status_code == 200
        assert len(_log(client)) == 1


def test_all_that_people_read_is_in_the_shop_s_time(store: Store, tmp_path: Path) -> None:
    Keeper(store).keep(arrivals("standpipe"))
    for km in (1, 2):
        store.add_record_entry(JOB, "mileage_km", km, "board", RECEIVED_S)
    shop = shop_of(store, HandClock(), Outbox(), tmp_path)
    berlin = Settings(shop=ShopPlace("Europe/Berlin"))
    with client_of(replace(shop, settings=berlin)) as client:
        page = client.get(f"/jobs/{JOB}/record").text
        paper = PdfReader(BytesIO(client.get(f"/jobs/{JOB}/record.pdf").content))
        (line,) = _log(client)
        (bench,) = client.get("/api/v1/benches").json()["benches"]
        recording = client.get(f"/api/v1/jobs/{JOB}/recording.sensml").content
    begun = "2027-01-15 09:00:00 CET"  # 08:00 UTC
    assert page.count(begun) >= 3  # title, begun, an entry that was changed
    assert "UTC" not in page
    printed = "".join(one.extract_text() for one in paper.pages)
    assert begun in printed
    assert line["begun"] == begun
    assert bench["last_seen"] == begun
    assert b'"bt":1800000000' in recording.replace(b" ", b"")  # seconds of UTC, as ever
