"""The broker is gone for ten minutes of a service and comes back without its memory.

A server stands beside it that stores what comes. In the end it has to hold every message that the
bench gave a number, each sample once, and what the core makes of it has to be the live answer.
"""

import logging
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from math import inf
from pathlib import Path
from typing import Any

from drainscale.agent.bench_file import UplinkTarget
from drainscale.core import Live, Service
from drainscale.messages.records import Body, JobClosed, JobOpened, Samples
from drainscale.messages.topics import BenchId
from drainscale.uplink.broker import BrokerSettings
from drainscale.uplink.mqtt import MqttUplink
from drainscale.uplink.spool import Spool
from drainscale_sim.closed_loop.brokers import (
    Broker,
    StoringServer,
    amqtt,
    find_mosquitto,
    mosquitto,
)
from drainscale_sim.closed_loop.orders import NAMES
from drainscale_sim.closed_loop.service import Place, serve
from drainscale_sim.soak.kills import as_bytes
from drainscale_sim.world.world import World

HOST = "127.0.0.1"
BROKERS = ("mosquitto", "amqtt")
GONE_S, LASTS_S = 250.0, 600.0  # of the job
FIRST_N = 100  # messages that have to have come before it goes
NO_MOSQUITTO = "not run: no mosquitto"


@dataclass(frozen=True)
class Outage:
    """What one service and the server had of it.

    Attributes:
        broker: Its name.
        went_s: When it went, s of the job.
        back_s: And when it came back.
        before_n: Messages stored when it went.
        while_gone_n: Messages stored when it came back.
        sent_n: Numbers that the bench gave out.
        missing_n: Of these, how many the server has not.
        strange_n: How many it has that were never given out.
        repeats_n: How often a message came again; it is stored once.
        samples_n: Samples in what is stored.
        twice_n: How many of these are there a second time.
        failures: What the server could not take.
        gaps_n: Stretches that the live answer says were missed.
        is_done: Whether the job came to its end.
        is_same: Whether what is stored answers as the live run did, byte for byte.
    """

    broker: str
    went_s: float
    back_s: float
    before_n: int
    while_gone_n: int
    sent_n: int
    missing_n: int
    strange_n: int
    repeats_n: int
    samples_n: int
    twice_n: int
    failures: Sequence[str]
    gaps_n: int
    is_done: bool
    is_same: bool

    @property
    def was_gone(self) -> bool:
        """Whether it was there first, then gone so long that nothing came through."""
        lasted_s = self.back_s - self.went_s
        return lasted_s >= LASTS_S and FIRST_N < self.before_n == self.while_gone_n

    @property
    def is_nothing_lost(self) -> bool:
        """Whether all arrived in the end."""
        return self.was_gone and self.sent_n > self.before_n and self.missing_n == 0

    @property
    def is_nothing_twice(self) -> bool:
        """Whether no sample, and no message that was never sent, is stored besides."""
        extra_n = self.strange_n + self.twice_n + len(self.failures)
        return self.samples_n > 0 and extra_n == 0

    @property
    def is_unmoved(self) -> bool:
        """Whether the measuring went on as if nothing were."""
        return self.is_done and self.gaps_n == 0 and self.is_same

    @property
    def is_good(self) -> bool:
        """Whether the outage cost nothing."""
        return self.is_nothing_lost and self.is_nothing_twice and self.is_unmoved

    def __str__(self) -> str:
        return "nothing lost, nothing twice" if self.is_good else "NOT as it has to be"


class Breaker:
    """Kills the broker in mid-job and brings it back, by the job's time.

    Attributes:
        before_n: Stored when it went; -1: it did not.
        while_gone_n: Stored when it came back; -1: it did not.
        went_s: When it went, s of the job.
        back_s: And when it came back.
    """

    def __init__(self, broker: Broker, server: StoringServer) -> None:
        self._broker, self._server = broker, server
        self.before_n = self.while_gone_n = -1
        self.went_s = self.back_s = inf

    def told(self, body: Body) -> None:
        """It looks at nothing but the time."""

    def looked(self, live: Live) -> None:
        """Look at the time; what waits here stops the job.

        Raises:
            RuntimeError: Too little came before the broker has to go.
        """
        if live.t >= GONE_S and self.before_n < 0:
            # some have to have come: real time is what the server needs, not the job's
            if not self._server.wait_for(lambda: self._server.stored_n() > FIRST_N):
                raise RuntimeError("the server has got nearly nothing")
            self._server.disconnect()
            self._broker.kill()
            self.before_n = self._server.stored_n()
            self.went_s = live.t
        if live.t >= self.went_s + LASTS_S and self.while_gone_n < 0:
            self.while_gone_n = self._server.stored_n()
            self.back_s = live.t
            self._broker.start()
            self._server.connect()


def outlive(name: str, scenario: str, seed: int, folder: Path) -> Outage | str:
    """Run a service through an outage of its broker.

    Args:
        name: Of ``BROKERS``.
        scenario: Its file's name.
        seed: The run.
        folder: Where the run keeps its things; made here.

    Returns:
        What became of it, or a line of why it did not run.

    Raises:
        RuntimeError: The broker does not start, or the job ended before it was back.
    """
    if name == "mosquitto" and find_mosquitto() is None:
        return NO_MOSQUITTO
    folder.mkdir(parents=True)
    broker = mosquitto(folder) if name == "mosquitto" else amqtt()
    server = StoringServer(broker.port)
    try:
        broker.start()
        server.connect()
        with _no_word_of_the_link():
            return _outlive(name, scenario, seed, Place(folder), broker, server)
    finally:
        server.disconnect()
        broker.kill()


@contextmanager
def _no_word_of_the_link() -> Iterator[None]:
    """Keep the uplink's warnings of a lost broker from the terminal: it is meant to be lost."""
    logged = logging.getLogger("drainscale.uplink.mqtt")
    before = logged.level
    logged.setLevel(logging.ERROR)
    try:
        yield
    finally:
        logged.setLevel(before)


def _outlive(
    name: str, scenario: str, seed: int, place: Place, broker: Broker, server: StoringServer
) -> Outage:
    world, breaker = World.of(scenario, seed), Breaker(broker, server)
    target = UplinkTarget(HOST, broker.port)
    finished = serve(
        world, lambda: world.is_over, world.setup.job, seed, place, breaker, target
    )  # fmt: skip
    if breaker.while_gone_n < 0:
        raise RuntimeError("the job ended before the broker was back")
    last = send_the_rest(place.spool, broker.port, server)
    sent = {(boot, seq) for boot, n in last.items() for seq in range(1, n + 1)}
    held = {(boot, seq) for boot, stored in server.stored.items() for seq in stored}
    bodies = _bodies(server)
    samples = [one for body in bodies if isinstance(body, Samples) for one in body.samples]
    return Outage(
        broker=name,
        went_s=breaker.went_s,
        back_s=breaker.back_s,
        before_n=breaker.before_n,
        while_gone_n=breaker.while_gone_n,
        sent_n=len(sent),
        missing_n=len(sent - held),
        strange_n=len(held - sent),
        repeats_n=server.repeats_n,
        samples_n=len(samples),
        twice_n=len(samples) - len(set(samples)),
        failures=tuple(server.failures),
        gaps_n=len(finished.answer["gaps"]),
        is_done=finished.is_done,
        is_same=_answers(bodies) == as_bytes(finished.answer),
    )


def send_the_rest(path: Path, port: int, server: StoringServer) -> dict[str, int]:
    """Switch the bench on again until the server has all, or takes too long.

    Returns:
        The last number given out, by start of the bench.
    """
    spool = Spool(path, BenchId(NAMES.site, NAMES.bench))
    uplink = MqttUplink(spool, BrokerSettings(HOST, port), time.monotonic)
    last = {one.boot: one.last for one in spool.standings() if one.last}
    uplink.start()
    try:
        server.wait_for(lambda: all(server.through(boot) == n for boot, n in last.items()))
    finally:
        uplink.stop()
        spool.close()
    return last


def _bodies(server: StoringServer) -> list[Body]:
    return [one.body for held in server.stored.values() for _, one in sorted(held.items())]


def _answers(bodies: Sequence[Body]) -> bytes:
    """Give what the core makes of what is stored; nothing where it is not one whole job."""
    opened = [body for body in bodies if isinstance(body, JobOpened)]
    closed_n = sum(isinstance(body, JobClosed) for body in bodies)
    if (len(opened), closed_n) != (1, 1):
        return b""
    service = Service(opened[0].spec)
    for body in bodies:
        for sample in body.samples if isinstance(body, Samples) else ():
            service.feed(sample)
    answer: dict[str, Any] = service.finish().to_dict()
    return as_bytes(answer)
