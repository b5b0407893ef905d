import base64
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from tests.server.shops import client_of

from drainscale_server.api.guards import HEADERS
from drainscale_server.api.shop import Shop
from drainscale_server.broker.credentials import FILE_NAME
from drainscale_server.settings.server_file import Settings, Tls, Web

ALIVE = "/healthz"
JOBS = "/api/v1/jobs"


@pytest.mark.parametrize("host", ["localhost", "LOCALHOST:1", "127.0.0.1:8080", "[::1]:8080",
                                  "192.0.2.7", "127.0.0.1"])  # fmt: skip
def test_a_host_of_ours_is_served(host: str, client: TestClient) -> None:
    assert client.get(ALIVE, headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    ["evil.example", "localhost.evil.example", "", "a b", "localhost:x", "u@localhost",
     "localhost/x", "127.0.0.1.evil.example"],
)  # fmt: skip
def test_any_other_host_is_refused(host: str, client: TestClient) -> None:
    told = client.get(ALIVE, headers={"host": host})
    assert told.status_code == 421
    assert told.headers["content-type"] == "application/problem+json"


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://localhost:8080",
                                    "http://localhost:9999", "http://localhost"])  # fmt: skip
def test_a_page_of_somebody_else_s_changes_nothing(origin: str, client: TestClient) -> None:
    for method in ("POST", "PATCH", "DELETE", "PUT"):
        told = client.request(method, JOBS, headers={"origin": origin})
        assert told.status_code == 403, method
    assert client.get(JOBS, headers={"origin": origin}).status_code == 200


def test_a_browser_that_says_cross_site_changes_nothing(client: TestClient) -> None:
    assert client.post(JOBS, headers={"sec-fetch-site": "cross-site"}).status_code == 403


@pytest.mark.parametrize("headers", [{}, {"origin": "http://localhost:8080"}])
def test_our_own_page_and_a_program_get_through(
    headers: dict[str, str], client: TestClient
) -> None:
    assert client.post(JOBS, headers=headers).status_code == 415


@pytest.mark.parametrize("path", [ALIVE, "/nothing", JOBS, "/api/v1/openapi.json"])
def test_every_answer_has_the_headers(path: str, client: TestClient) -> None:
    told = client.get(path)
    assert {name: told.headers[name] for name in HEADERS} == HEADERS
    assert "unsafe" not in told.headers["content-security-policy"]
    assert "server" not in told.headers


def test_a_long_body_is_refused_by_its_header_and_by_its_bytes(client: TestClient) -> None:
    kind = {"content-type": "application/json"}
    long = b" " * (256 * 1024 + 1)
    assert client.post(JOBS, content=long, headers=kind).status_code == 413

    def pieces() -> Iterator[bytes]:
        for _ in range(300):
            yield b" " * 1024

    told = client.post(JOBS, content=pieces(), headers=kind)  # no length said beforehand
    assert told.status_code == 413


def test_a_length_that_is_no_number_is_refused(client: TestClient) -> None:
    assert client.post(JOBS, headers={"content-length": "x"}).status_code == 400


def test_errors_tell_no_version_and_no_internals(client: TestClient) -> None:
    for told in (client.get("/nothing"), client.put(JOBS), client.get(f"{JOBS}?limit=x")):
        assert told.headers["content-type"] == "application/problem+json"
        assert "0.1.0" not in told.text
        assert "Traceback" not in told.text


def test_a_method_that_is_not_taken_is_a_problem_and_says_which_are(client: TestClient) -> None:
    told = client.put(JOBS)
    assert told.status_code == 405
    assert told.json()["title"] == "Method Not Allowed"
    assert told.headers["allow"] == "GET, HEAD, POST"


def test_a_bug_of_ours_tells_nothing_of_itself(shop: Shop) -> None:
    def broken() -> str:
        raise RuntimeError("secret internals")

    with client_of(replace(shop, intake_fault=broken)) as client:
        told = client.get("/readyz")
    assert told.status_code == 500
    assert told.headers["content-type"] == "application/problem+json"
    assert "secret" not in told.text


@pytest.fixture
def open_to_all(shop: Shop) -> Iterator[TestClient]:
    settings = Settings(web=Web("0.0.0.0", names=("Bay.Example",)), tls=Tls("c", "k"))
    others = replace(shop, settings=settings, needs_password=True)
    with client_of(others, "https://bay.example") as client:
        yield client


def basic(user: str, password: str) -> dict[str, str]:
    return {"authorization": "Basic " + base64.b64encode(f"{user}:{password}".encode()).decode()}


def test_others_need_the_password(open_to_all: TestClient, shop: Shop) -> None:
    password = shop.credentials.new_web_password()
    told = open_to_all.get(ALIVE)
    assert told.status_code == 401
    assert told.headers["www-authenticate"].startswith("Basic ")
    assert told.headers["strict-transport-security"]
    assert open_to_all.get(ALIVE, headers=basic("shop", password)).status_code == 200
    assert open_to_all.get(ALIVE, headers=basic("shop", password)).status_code == 200
    for wrong in (basic("shop", "guess"), basic("", password), basic("Shop", password),
                  {"authorization": "Basic ?"}, {"authorization": f"Bearer {password}"},
                  {"authorization": "Basic"}):  # fmt: skip
        assert open_to_all.get(ALIVE, headers=wrong).status_code == 401, wrong


def test_a_wrong_password_is_logged_without_it_and_the_right_one_still_works(
    open_to_all: TestClient, shop: Shop, caplog: pytest.LogCaptureFixture
) -> None:
    mine = basic("shop", shop.credentials.new_web_password())
    for n in range(20):
        assert open_to_all.get(ALIVE, headers=basic("shop", f"guess-{n}")).status_code == 401
    assert open_to_all.get(ALIVE, headers=mine).status_code == 200
    assert caplog.text.count("wrong name or password from testclient") == 20
    assert "guess" not in caplog.text


def test_an_old_password_counts_no_more(open_to_all: TestClient, shop: Shop) -> None:
    old = basic("shop", shop.credentials.new_web_password())
    assert open_to_all.get(ALIVE, headers=old).status_code == 200
    new = basic("shop", shop.credentials.new_web_password())
    assert open_to_all.get(ALIVE, headers=old).status_code == 401
    assert open_to_all.get(ALIVE, headers=new).status_code == 200


def test_passwords_that_cannot_be_read_are_a_problem_and_let_nobody_in(
    open_to_all: TestClient, client: TestClient, shop: Shop, tmp_path: Path
) -> None:
    mine = basic("shop", shop.credentials.new_web_password())
    (tmp_path / FILE_NAME).write_text("{")
    for told in (open_to_all.get(ALIVE, headers=mine), client.get("/api/v1/benches")):
        assert told.status_code == 503
        assert told.headers["content-type"] == "application/problem+json"
        assert str(tmp_path) not in told.text
    assert client.get(ALIVE).status_code == 200


def test_over_tls_the_origin_is_https(open_to_all: TestClient, shop: Shop) -> None:
    mine = basic("shop", shop.credentials.new_web_password())
    for origin, status in (("https://bay.example", 415), ("http://bay.example", 403)):
        told = open_to_all.post(JOBS, headers=mine | {"origin": origin})
        assert told.status_code == status


def test_the_routes_are_the_documented_ones(client: TestClient) -> None:
    page = Path(__file__).parents[3] / "docs/reference/http-api.md"
    text = page.read_text(encoding="utf-8")
    paths = client.get("/api/v1/openapi.json").json()["paths"]
    unsaid = [
        path
        for path in paths
        if path.startswith("/api/v1")
        and f"{path.removeprefix('/api/v1')}`" not in text
        and f"`{path.removeprefix('/api/v1/jobs/{job}')}`" not in text
        and f"{path.removeprefix('/api/v1/jobs/{job}')}`" not in text
    ]
    assert unsaid == []
