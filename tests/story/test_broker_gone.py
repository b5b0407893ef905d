"""The broker is gone for ten minutes of a service: nothing is lost, nothing comes twice."""

import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from tests.kit.uplink.brokers import (
    PATIENCE_S,
    Broker,
    StoringServer,
    running_mosquitto,
    storing_server,
)

from drainscale.agent.bench_file import UplinkTarget
from drainscale.core import Live, Service
from drainscale.messages.records import Body, JobClosed, JobOpened, Samples
from drainscale.messages.topics import BenchId
from drainscale.uplink.broker import BrokerSettings
from drainscale.uplink.mqtt import MqttUplink
from drainscale.uplink.spool import Spool
from drainscale_sim.closed_loop.orders import NAMES
from drainscale_sim.closed_loop.service import Place, serve
from drainscale_sim.soak.kills import as_bytes
from drainscale_sim.world.world import World

GONE_S, BACK_S = 250.0, 850.0  # of the job
SCENARIO, SEED = "check-plug", 11  # a quick one


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    with running_mosquitto(tmp_path) as started:
        yield started


@pytest.fixture
def server(broker: Broker) -> Iterator[StoringServer]:
    with storing_server(broker.port) as server:
        yield server


@dataclass
class Breaker:
    """Kills the broker in mid-job and brings it back, its memory lost, by the job's time."""

    broker: Broker
    server: StoringServer
    before_n = -1  # stored when it went
    while_gone_n = -1  # and when it came back

    def stored_n(self) -> int:
        return sum(len(held) for held in self.server.stored.values())

    def told(self, body: Body) -> None:
        """It looks at nothing but the time."""

    def looked(self, live: Live) -> None:
        if live.t >= GONE_S and self.before_n < 0:
            # some have to have come: real time is what the server needs, not the job's
            assert self.server.wait_for(lambda: self.stored_n() > 100)
            self.server.disconnect()
            self.broker.kill()
            self.before_n = self.stored_n()
        if live.t >= BACK_S and self.while_gone_n < 0:
            self.while_gone_n = self.stored_n()
            self.broker.start()
            self.server.connect()


def send_the_rest(path: Path, broker: Broker, server: StoringServer) -> dict[str, int]:
    """Switch the bench on again until the server has all; give the numbers by start."""
    spool = Spool(path, BenchId(NAMES.site, NAMES.bench))
    uplink = MqttUplink(spool, BrokerSettings("127.0.0.1", broker.port), time.monotonic)
    last = {one.boot: one.last for one in spool.standings() if one.last}
    uplink.start()
    try:
        complete = lambda: all(server.through(boot) == n for boot, n in last.items())  # noqa: E731
        assert server.wait_for(complete, PATIENCE_S)
    finally:
        uplink.stop()
        spool.close()
    return last


def test_a_broker_that_is_gone_for_ten_minutes_costs_nothing(
    tmp_path: Path, broker: Broker, server: StoringServer
) -> None:
    world, place = World.of(SCENARIO, SEED), Place(tmp_path)
    breaker = Breaker(broker, server)
    finished = serve(
        world, lambda: world.is_over, world.setup.job, SEED, place, breaker,
        UplinkTarget("127.0.0.1", broker.port),
    )  # fmt: skip
    assert finished.is_done
    assert finished.answer["gaps"] == []  # the measuring never waited for it
    assert 100 < breaker.before_n == breaker.while_gone_n
    last = send_the_rest(place.spool, broker, server)
    assert server.failures == []
    assert {boot: sorted(held) for boot, held in server.stored.items()} == {
        boot: list(range(1, n + 1)) for boot, n in last.items()
    }
    assert as_bytes(replayed(server)) == as_bytes(finished.answer)


def replayed(server: StoringServer) -> dict[str, object]:
    """What the core makes of all that the server has stored."""
    bodies = [one.body for held in server.stored.values() for _, one in sorted(held.items())]
    opened = [body for body in bodies if isinstance(body, JobOpened)]
    assert (len(opened), sum(isinstance(body, JobClosed) for body in bodies)) == (1, 1)
    service = Service(opened[0].spec)
    for body in bodies:
        for sample in body.samples if isinstance(body, Samples) else ():
            service.feed(sample)
    return service.finish().to_dict()
