"""Log-in and log-out: sessions of browsers beside the password of programs."""

import re
import stat
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import httpx2
import pytest
from starlette.testclient import TestClient
from tests.kit.uplink.brokers import eventually
from tests.kit.uplink.made_up import BAY_3
from tests.server.api.test_guards import basic
from tests.server.api.test_patience import FEED, asked, serving
from tests.server.shops import HandClock, client_of

from drainscale_server.api.patience import PatientProtocol
from drainscale_server.api.sessions import COOKIE, FILE_NAME, LIFE_S, MOST_N, Sessions
from drainscale_server.api.shop import Shop
from drainscale_server.broker.credentials import FILE_NAME as CREDENTIALS
from drainscale_server.settings.server_file import Settings, Tls, Web

SESSION = "/api/v1/session"
BENCHES = "/api/v1/benches"
PERSON = {"accept": "text/html,*/*", "sec-fetch-mode": "navigate"}
SCRIPT = {"sec-fetch-mode": "same-origin", "origin": "https://bay.example"}


@pytest.fixture
def guarded(shop: Shop) -> Shop:
    settings = Settings(web=Web("0.0.0.0", names=("bay.example",)), tls=Tls("c", "k"))
    return replace(shop, settings=settings, needs_password=True)


@pytest.fixture
def password(shop: Shop) -> str:
    return shop.credentials.new_web_password()


@pytest.fixture
def browser(guarded: Shop, password: str) -> Iterator[TestClient]:
    with client_of(guarded, "https://bay.example") as client:
        client.follow_redirects = False
        yield client


def log_in(browser: TestClient, password: str) -> str:
    """Log in; give the token, which the client keeps as a browser does."""
    told = browser.post(SESSION, json={"password": password}, headers=SCRIPT)
    assert told.status_code == 200
    token = browser.cookies.get(COOKIE)
    assert token is not None
    return token


def test_a_person_is_shown_where_to_log_in_and_comes_back(browser: TestClient) -> None:
    told = browser.get("/jobs/j 1/record", headers=PERSON)
    assert (told.status_code, told.headers["location"]) == (
        303, "/login?next=%2Fjobs%2Fj%25201%2Frecord",
    )  # fmt: skip
    told = browser.get("/board/north/bay-1?units=us&theme=light", headers=PERSON)
    assert told.headers["location"] == (
        "/login?next=%2Fboard%2Fnorth%2Fbay-1%3Funits%3Dus%26theme%3Dlight"
    )
    for path in ("/login", "/static/board/js/login.js", "/static/board/texts.json", SESSION):
        assert browser.get(path, headers=PERSON).status_code == 200, path


@pytest.mark.parametrize("path", ["/", BENCHES, "/healthz", "/new-job", "/login/", "/loginx",
                                  "/api/v1/sessions", "/api/v1/session/x"])  # fmt: skip
def test_nothing_else_is_open_to_whoever_is_not_logged_in(browser: TestClient, path: str) -> None:
    assert browser.get(path).status_code == 401


def test_a_script_of_ours_makes_no_browser_ask_for_a_name(browser: TestClient) -> None:
    assert not browser.get(BENCHES, headers=SCRIPT).headers["www-authenticate"].startswith("Basic")
    assert browser.get(BENCHES).headers["www-authenticate"].startswith("Basic")


def test_the_cookie_is_for_this_server_alone_and_out_of_scripts_reach(
    browser: TestClient, password: str
) -> None:
    told = browser.post(SESSION, json={"password": password}, headers=SCRIPT)
    kept = told.headers["set-cookie"]
    assert re.fullmatch(
        rf"{COOKIE}=[\w-]{{43}}; Path=/; Max-Age={LIFE_S}; Secure; HttpOnly; SameSite=Lax", kept
    )


def test_whoever_is_logged_in_comes_in_until_they_log_out(
    browser: TestClient, password: str
) -> None:
    token = log_in(browser, password)
    assert browser.get(BENCHES).status_code == 200
    assert browser.get(SESSION).json() == {"is_needed": True, "is_open": True}
    told = browser.delete(SESSION, headers=SCRIPT)
    assert told.json() == {"is_needed": True, "is_open": False}
    assert "Max-Age=0" in told.headers["set-cookie"]
    assert browser.cookies.get(COOKIE) is None
    # a copy of the cookie is worth nothing either
    assert browser.get(BENCHES, headers={"cookie": f"{COOKIE}={token}"}).status_code == 401


def test_logging_out_ends_one_browser_logging_out_everywhere_all(
    browser: TestClient, guarded: Shop, password: str
) -> None:
    tokens = []
    for _ in range(3):
        tokens.append(log_in(browser, password))
        browser.cookies.clear()
    as_each = [{"cookie": f"{COOKIE}={token}"} for token in tokens]
    browser.delete(SESSION, headers=SCRIPT | as_each[0])
    assert [browser.get(BENCHES, headers=one).status_code for one in as_each] == [401, 200, 200]
    assert browser.delete("/api/v1/sessions", headers=SCRIPT | as_each[1]).status_code == 200
    assert [browser.get(BENCHES, headers=one).status_code for one in as_each] == [401, 401, 401]
    assert browser.get(BENCHES, headers=basic("shop", password)).status_code == 200


def test_nobody_logs_others_out_who_is_not_in(browser: TestClient, password: str) -> None:
    token = log_in(browser, password)
    browser.cookies.clear()
    assert browser.delete("/api/v1/sessions", headers=SCRIPT).status_code == 401
    evil = {"origin": "https://evil.example", "cookie": f"{COOKIE}={token}"}
    assert browser.delete("/api/v1/sessions", headers=evil).status_code == 403
    assert browser.delete(SESSION, headers=evil).status_code == 403
    assert browser.get(BENCHES, headers={"cookie": f"{COOKIE}={token}"}).status_code == 200


@pytest.mark.parametrize("cookie", ["", COOKIE, f"{COOKIE}=", f"{COOKIE}=guess", "\x01=\x02;",
                                    f'{COOKIE}="', f"drainscale={'x' * 43}"])  # fmt: skip
def test_a_cookie_that_is_none_of_ours_lets_nobody_in(
    browser: TestClient, password: str, cookie: str
) -> None:
    log_in(browser, password)
    browser.cookies.clear()
    assert browser.get(BENCHES, headers={"cookie": cookie}).status_code == 401


@pytest.mark.parametrize("theirs", ['a={"b": 1}', "theirs", 'theirs="', "a b=c d", "\xe4=\xf6"])
def test_what_other_programs_of_the_machine_keep_in_a_browser_is_passed_over(
    browser: TestClient, password: str, theirs: str
) -> None:
    ours = f"{COOKIE}={log_in(browser, password)}"
    browser.cookies.clear()
    for kept in (f"{theirs}; {ours}", f"{ours}; {theirs}"):  # cookies know no ports
        cookie = {b"cookie": kept.encode("latin-1")}
        assert browser.get(BENCHES, headers=cookie).status_code == 200, kept


def test_a_wrong_password_opens_nothing_and_is_logged_without_it(
    browser: TestClient, password: str, caplog: pytest.LogCaptureFixture
) -> None:
    told = browser.post(SESSION, json={"password": "a guess"}, headers=SCRIPT)
    assert (told.status_code, "set-cookie" in told.headers) == (403, False)
    assert "wrong password from testclient" in caplog.text
    assert "a guess" not in caplog.text


def test_a_new_password_ends_all_sessions(browser: TestClient, password: str, shop: Shop) -> None:
    log_in(browser, password)
    shop.credentials.new_web_password()
    assert browser.get(BENCHES).status_code == 401


def test_a_session_ends_by_itself(browser: TestClient, password: str, clock: HandClock) -> None:
    log_in(browser, password)
    clock.now_s += LIFE_S - 1.0
    assert browser.get(BENCHES).status_code == 200
    clock.now_s += 1.0
    assert browser.get(BENCHES).status_code == 401


def test_sessions_outlive_the_server_hashed_and_for_its_owner_only(
    browser: TestClient, password: str, guarded: Shop, tmp_path: Path
) -> None:
    token = log_in(browser, password)
    file = tmp_path / FILE_NAME
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert token not in file.read_text()
    with client_of(guarded, "https://bay.example") as later:
        assert later.get(BENCHES, headers={"cookie": f"{COOKIE}={token}"}).status_code == 200
    file.write_text("{")  # damaged: everybody logs in anew
    with client_of(guarded, "https://bay.example") as later:
        assert later.get(BENCHES, headers={"cookie": f"{COOKIE}={token}"}).status_code == 401


def test_without_the_passwords_file_no_session_counts(
    browser: TestClient, password: str, tmp_path: Path
) -> None:
    log_in(browser, password)
    (tmp_path / CREDENTIALS).write_text("{")
    for path in (BENCHES, SESSION, "/static/board/js/login.js"):
        assert browser.get(path).status_code == 503, path


def test_of_very_many_sessions_the_oldest_go(shop: Shop, password: str, clock: HandClock) -> None:
    sessions = Sessions(shop.credentials, clock)
    tokens = []
    for _ in range(MOST_N + 3):
        clock.now_s += 1.0
        tokens.append(sessions.open())
    assert [sessions.is_open(one) for one in tokens] == [False] * 3 + [True] * MOST_N


def test_a_feed_under_way_ends_with_its_session(shop: Shop, password: str) -> None:
    shop.credentials.enrol(BAY_3)
    served_shop = replace(shop, needs_password=True)
    with serving(served_shop, PatientProtocol) as served, served.connect() as sock:
        url = f"http://127.0.0.1:{served.port}{SESSION}"
        told = httpx2.post(url, json={"password": password})
        cookie = told.headers["set-cookie"].partition(";")[0]
        sock.sendall(asked(FEED, more=f"Cookie: {cookie}\r\n"))
        assert eventually(lambda: served.viewers_n() == 1)
        httpx2.delete(url, headers={"cookie": cookie})
        stream = b""
        while not stream.endswith(b"0\r\n\r\n"):  # the end of a chunked answer
            stream += sock.recv(65536)
        assert stream.startswith(b"HTTP/1.1 200")
        assert eventually(lambda: served.viewers_n() == 0)


def test_on_this_machine_nobody_has_to_log_in(client: TestClient) -> None:
    assert client.get(SESSION).json() == {"is_needed": False, "is_open": False}
    assert client.post(SESSION, json={"password": "x"}).status_code == 409
    assert client.delete(SESSION).status_code == 200
