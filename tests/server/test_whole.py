"""The whole server and the kit's own uplink, over its own broker and over a Mosquitto."""

import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx2
import pytest
from tests.kit.uplink.brokers import Broker, eventually
from tests.kit.uplink.made_up import BAY_3, OPENED
from tests.server.made_up import BODIES
from tests.server.servers import PATIENCE_S, ServerProcess
from tests.server.shops import ORDER

from drainscale.messages.records import Samples
from drainscale.messages.telegrams import Command, CommandAnswer, Figures, JobOrder, Live
from drainscale.uplink.broker import BrokerSettings
from drainscale.uplink.mqtt import MqttUplink, Retry
from drainscale.uplink.spool import Spool
from drainscale.uplink.writer import SpoolWriter
from drainscale_server.broker.credentials import Credentials
from drainscale_server.running import data_folder
from drainscale_server.settings.server_file import DataPlace, Settings

BENCH = f"api/v1/benches/{BAY_3.site}/{BAY_3.bench}"


@dataclass
class Whole:
    """A server with a bench that is connected to it."""

    server: ServerProcess
    uplink: MqttUplink
    client: httpx2.Client

    def get(self, path: str) -> Any:
        return self.client.get(self.server.url + path).json()

    def told(self) -> list[Any]:
        """What the bench was told since the last look."""
        return list(self.uplink.orders())


@pytest.fixture(params=["embedded", "outside"])
def whole(
    request: pytest.FixtureRequest, tmp_path: Path, spool: Spool, writer: SpoolWriter
) -> Iterator[Whole]:
    folder = data_folder(Settings(data=DataPlace(str(tmp_path / "data"))))
    more: list[str] = []
    user = password = None
    if request.param == "outside":
        outside = request.getfixturevalue("a_mosquitto")
        assert isinstance(outside, Broker)
        config = tmp_path / "server.toml"
        config.write_text(f'[broker]\nway = "outside"\nport = {outside.port}\n')
        more = ["--config", str(config)]
    else:
        user, password = f"{BAY_3.site}/{BAY_3.bench}", Credentials(folder).enrol(BAY_3)
    server = ServerProcess(folder, *more)
    broker_port = outside.port if request.param == "outside" else 0
    server.start(broker_port=broker_port)
    settings = BrokerSettings(port=server.broker_port, user=user, password=password)
    uplink = MqttUplink(spool, settings, now_s=lambda: 12.5, retry=Retry(0.02, 0.1))
    uplink.start()
    with httpx2.Client(timeout=PATIENCE_S) as client:
        yield Whole(server, uplink, client)
    uplink.stop()
    server.stop()
    assert "Traceback" not in server.log()


def test_a_job_is_ordered_begun_done_and_given_out(whole: Whole, writer: SpoolWriter) -> None:
    assert eventually(lambda: whole.uplink.is_connected)
    assert eventually(lambda: BAY_3.bench in str(whole.get("api/v1/benches")))
    body = {"site": BAY_3.site, "bench": BAY_3.bench, "job_file": ORDER, "label": "blue van"}
    job = whole.client.post(whole.server.url + "api/v1/jobs", json=body).json()["job"]
    orders: list[JobOrder] = []

    def has_order() -> bool:
        orders.extend(one for one in whole.told() if isinstance(one, JobOrder))
        return bool(orders)

    assert eventually(has_order)
    assert (orders[0].job, orders[0].label) == (job, "blue van")
    writer.begin_job(job, OPENED)
    samples = next(one for one in BODIES if isinstance(one, Samples)).samples
    writer.give([*samples, *(one for one in BODIES[2:] if not isinstance(one, Samples))])
    assert eventually(lambda: whole.get(f"api/v1/jobs/{job}")["state"] == "done")
    assert len(whole.get(f"api/v1/jobs/{job}/samples?name=scale")["v"]) == 9
    assert whole.get(f"api/v1/jobs/{job}/result")["is_final"] is True
    assert whole.get("readyz")["is_ready"] is True


def test_a_command_reaches_the_bench_and_its_answer_comes_back(whole: Whole) -> None:
    assert eventually(lambda: whole.uplink.is_connected)
    boot = whole.uplink._spool.boot
    live = Live(
        site=BAY_3.site, bench=BAY_3.bench, boot=boot, now_s=12.5,
        figures=Figures(t=0.0, step="drain"),
    )  # fmt: skip

    def is_seen() -> bool:
        whole.uplink.show(live)
        return bool(whole.get(BENCH).get("link", {}).get("state") == "online")

    def is_answered() -> bool:
        """Press once; on a machine that is too busy for the five seconds, once more."""
        with ThreadPoolExecutor(1) as pool:
            pressed = pool.submit(press, whole)
            while not pressed.done():
                whole.uplink.show(live)  # a bench that is silent gets no command
                answer_commands(whole)
            told.append(pressed.result())
        return told[-1].status_code == 200

    told: list[httpx2.Response] = []
    assert eventually(is_seen)
    assert eventually(is_answered), told[-1].text
    assert told[-1].json()["verdict"] == "refused"
    assert told[-1].json()["reason"] == "not here"


def press(whole: Whole) -> httpx2.Response:
    body = {"command": "back", "step": "drain"}
    return whole.client.post(f"{whole.server.url}{BENCH}/commands", json=body)


def answer_commands(whole: Whole) -> None:
    """Answer what came, as the bench does."""
    for one in whole.told():
        if isinstance(one, Command):
            assert (one.command, one.step, one.expires_s) == ("back", "drain", 17.5)
            refusal = CommandAnswer(
                id=one.id, boot=one.boot, verdict="refused", now_s=12.6, reason="not here"
            )
            whole.uplink.answer(refusal)
    time.sleep(0.02)  # nothing tells when a command comes
