"""Benches, and commands to a bench that answers by itself."""

import asyncio
from collections.abc import Callable
from contextlib import suppress
from typing import Any

import msgspec
import pytest
from starlette.testclient import TestClient
from tests.kit.uplink.made_up import BAY_3
from tests.server.shops import NOW_S, HandClock, Outbox

from drainscale.messages.codec import decode
from drainscale.messages.telegrams import Command, CommandAnswer, Figures, Live, Status
from drainscale_server.api.shop import Shop
from drainscale_server.app import create_app
from drainscale_server.ingest.keeping import Keeper
from drainscale_server.ingest.reading import Arrived

BENCH = f"/api/v1/benches/{BAY_3.site}/{BAY_3.bench}"
LIVE = Live(
    site=BAY_3.site,
    bench=BAY_3.bench,
    boot="b1",
    now_s=77.0,
    job="j-1",
    cue="add",
    cue_reason="below-target",
    figures=Figures(t=12.0, step="refill"),
)


@pytest.fixture
def seen(shop: Shop, done_job: str) -> Shop:
    shop.feed.on_live(LIVE)
    return shop


def answering(shop: Shop, outbox: Outbox, **verdict: Any) -> Callable[[str, bytes], None]:
    """Make the bench answer each command as soon as it goes out."""

    def answer(topic: str, payload: bytes) -> None:
        command = decode(topic, payload)
        assert isinstance(command, Command)
        told = CommandAnswer(id=command.id, boot="b1", now_s=77.5, **verdict)
        shop.commands.on_answer(told, BAY_3)

    outbox.on_sent = answer
    return answer


def press(client: TestClient, **more: Any) -> Any:
    body = {"command": "confirm", "step": "refill", "job": "j-1"} | more
    return client.post(f"{BENCH}/commands", json=body)


def test_benches_are_listed_with_what_they_do(client: TestClient, seen: Shop) -> None:
    (told,) = client.get("/api/v1/benches").json()["benches"]
    assert (told["state"], told["step"], told["cue"]) == ("online", "refill", "add")
    assert told["last_seen_s"] == NOW_S
    assert told["is_enrolled"] is False


def test_an_enrolled_bench_is_listed_before_it_was_ever_heard(
    client: TestClient, shop: Shop
) -> None:
    shop.credentials.enrol(BAY_3)
    (told,) = client.get("/api/v1/benches").json()["benches"]
    assert (told["bench"], told["state"], told["is_enrolled"]) == ("bay-3", "unknown", True)
    assert client.get(BENCH).json()["job"] is None


def test_a_bench_that_nobody_knows_is_a_problem(client: TestClient) -> None:
    for told in (client.get(BENCH), client.get(f"{BENCH}/feed"), press(client)):
        assert told.status_code == 404
    assert client.get("/api/v1/benches/North/bay-1").status_code == 422


def test_a_command_goes_out_as_meant_and_its_answer_comes_back(
    client: TestClient, seen: Shop, outbox: Outbox
) -> None:
    answering(seen, outbox, verdict="accepted")
    told = press(client, gate="pan-and-filter=stays-on")
    assert told.status_code == 200
    topic, payload, is_retained = outbox.sent[-1]
    sent = msgspec.json.decode(payload, type=Command)
    assert (topic, is_retained) == (BAY_3.topic("command"), False)
    assert (sent.boot, sent.job, sent.step, sent.gate) == (
        "b1", "j-1", "refill", "pan-and-filter=stays-on",
    )  # fmt: skip
    assert sent.expires_s == 82.0  # by the kit's own clock, five seconds on
    assert told.json() == {"id": sent.id, "verdict": "accepted", "reason": ""}


def test_a_refusal_is_told_with_its_reason(client: TestClient, seen: Shop, outbox: Outbox) -> None:
    answering(seen, outbox, verdict="refused", reason="meant for step refill, this is level")
    told = press(client)
    assert (told.status_code, told.json()["verdict"]) == (200, "refused")
    assert told.json()["reason"] == "meant for step refill, this is level"


def test_two_presses_have_two_ids(client: TestClient, seen: Shop, outbox: Outbox) -> None:
    answering(seen, outbox, verdict="accepted")
    assert press(client).json()["id"] != press(client).json()["id"]


def test_no_answer_is_told_after_a_while(client: TestClient, seen: Shop) -> None:
    told = press(client)
    assert told.status_code == 504
    assert "did not answer within" in told.json()["detail"]


def test_another_bench_s_answer_is_none(client: TestClient, seen: Shop, outbox: Outbox) -> None:
    def answer(topic: str, payload: bytes) -> None:
        command = msgspec.json.decode(payload, type=Command)
        other = type(BAY_3)("north", "bay-4")
        told = CommandAnswer(id=command.id, boot="b1", verdict="accepted", now_s=1.0)
        seen.commands.on_answer(told, other)

    outbox.on_sent = answer
    assert press(client).status_code == 504


def test_without_a_broker_nothing_is_sent(client: TestClient, seen: Shop, outbox: Outbox) -> None:
    outbox.is_there = False
    assert press(client).status_code == 503
    ready = client.get("/readyz")
    assert (ready.status_code, ready.json()["intake"]) == (503, "no broker: gone")
    assert client.get("/healthz").status_code == 200


def test_a_silent_bench_gets_no_command(
    client: TestClient, seen: Shop, outbox: Outbox, clock: HandClock
) -> None:
    clock.now_s += 6.0
    told = press(client)
    assert told.status_code == 409
    assert "silent for 6 s" in told.json()["detail"]
    assert outbox.sent == []


def test_a_bench_that_only_left_a_status_with_the_broker_gets_none(
    client: TestClient, shop: Shop, done_job: str
) -> None:
    left = Status(site=BAY_3.site, bench=BAY_3.bench, boot="b1", state="online", now_s=3.0)
    shop.feed.on_status(left, is_retained=True)
    assert press(client).status_code == 409


@pytest.mark.parametrize(
    "body",
    [
        {"command": "start"},
        {"step": ""},
        {"step": "x" * 33},
        {"gate": "x" * 201},
        {"more": 1},
        {"job": 7},
    ],
)
def test_a_wrong_command_is_refused(
    body: dict[str, Any], client: TestClient, seen: Shop, outbox: Outbox
) -> None:
    assert press(client, **body).status_code == 422
    assert outbox.sent == []


def test_a_command_for_a_job_that_is_not_there_is_refused(client: TestClient, seen: Shop) -> None:
    assert press(client, job="j-none").status_code == 404


def test_cautions_and_gates_are_told_with_their_sources(client: TestClient) -> None:
    cautions = client.get("/api/v1/cautions", params={"step": "drain", "fluid_C": 40}).json()
    assert "burn" not in [one["key"] for one in cautions["cautions"]]
    hot = client.get("/api/v1/cautions", params={"step": "drain"}).json()["cautions"]
    assert "burn" in [one["key"] for one in hot]
    assert all(one["source"] for one in hot)
    gates = client.get("/api/v1/gates", params={"level_method": "check-plug"}).json()["gates"]
    assert "standpipe-torqued" not in [one["id"] for one in gates]


def test_the_quarantine_is_told_as_text(client: TestClient, shop: Shop) -> None:
    Keeper(shop.store).keep([Arrived("drainscale/north/bay-3/event", b"\xff{", NOW_S)])
    (told,) = client.get("/api/v1/quarantine").json()["quarantine"]
    assert (told["kind"], told["begins"], told["size"]) == ("unreadable", "\ufffd{", 2)


def test_a_viewer_whose_headers_could_not_be_sent_keeps_no_place(shop: Shop) -> None:
    shop.credentials.enrol(BAY_3)
    app = create_app(shop)
    path = f"/api/v1/benches/{BAY_3.site}/{BAY_3.bench}/feed"
    scope = {"type": "http", "method": "GET", "path": path, "raw_path": path.encode(),
             "query_string": b"", "headers": [(b"host", b"localhost")], "http_version": "1.1",
             "scheme": "http", "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 2),
             "root_path": "", "asgi": {"version": "3.0", "spec_version": "2.3"}}  # fmt: skip
    viewers: list[int] = []

    async def receive() -> Any:
        await asyncio.Event().wait()

    async def send(message: Any) -> None:
        viewers.append(shop.feed._viewers_n())
        raise OSError("gone")

    async def asked() -> None:
        with suppress(OSError):
            await app(scope, receive, send)

    asyncio.run(asked())
    assert (viewers[0], shop.feed._viewers_n()) == (1, 0)
