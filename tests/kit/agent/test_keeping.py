"""A job kept in a real spool and sent over a real broker; commands from the board."""

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests.kit.agent.benches import COUNTS_PER_KG, ZERO, bench_of, order
from tests.kit.uplink.brokers import PATIENCE_S, Broker, StoringServer, amqtt

from drainscale.agent.bench_file import UplinkTarget
from drainscale.agent.job_run import JobRun
from drainscale.agent.keeping import SpoolKeeper, broker_of
from drainscale.errors import BenchFileError, InputError
from drainscale.messages.codec import encode
from drainscale.messages.records import (
    CueShown,
    EventTold,
    JobClosed,
    JobOpened,
    Note,
    ResultFormed,
    Samples,
)
from drainscale.messages.telegrams import Command, CommandAnswer, Live
from drainscale.messages.topics import BenchId
from drainscale.quantities.samples import BoardReading, PanReading, Sample, ScaleCount
from drainscale.uplink.broker import BrokerSettings
from drainscale.uplink.spool import Spool

BAY_1 = BenchId("north", "bay-1")


class Kept:
    """A job with its keeper, fed by hand; its clock is the samples'."""

    def __init__(self, folder: Path, port: int | None) -> None:
        self.now_s = 0.0
        self.path = folder / "spool.sqlite"
        self.spool = Spool(self.path, BAY_1)
        target = None if port is None else BrokerSettings("127.0.0.1", port)
        self.keeper = SpoolKeeper(self.spool, lambda: self.now_s, target, self.act)
        job = bench_of(folder).with_order(order())
        opened = JobOpened(
            base_time_s=1.8e9, is_clock_set=True, kernel_boot="k", started_monotonic_s=0.0,
            kit_version="0", spec=job,
        )  # fmt: skip
        self.keeper.begin("j-1", opened)
        self.run = JobRun(job, self.keeper)
        self.fed: list[Sample] = []

    def act(self, command: Command) -> None:
        self.run.command(self.now_s, command.command, command.gate)

    def feed(self, until_s: float) -> None:
        while self.now_s < until_s:
            t = round(self.now_s, 1)
            kg = 1.0 if t > 3.0 else 0.0
            samples: list[Sample] = [
                ScaleCount(t, round(ZERO + kg * COUNTS_PER_KG) + round(t * 10) % 5)
            ]
            if round(t * 10) % 5 == 0:
                samples += [PanReading(t, 21.5), BoardReading(t, 22.0)]
            self.fed += samples
            self.run.feed(samples)
            self.keeper.turn(self.run.look(t))
            self.now_s = round(self.now_s + 0.1, 1)

    def turn_until(self, what: Callable[[], bool]) -> bool:
        """Go on turning, as the loop does, until something from outside has come."""
        end_s = time.monotonic() + PATIENCE_S
        while not what() and time.monotonic() < end_s:
            self.keeper.turn(None)
            time.sleep(0.01)  # nothing in this process tells when a message comes
        return what()


@pytest.fixture
def broker() -> Iterator[Broker]:
    started = amqtt()
    started.start()
    yield started
    started.kill()


@pytest.fixture
def server(broker: Broker) -> Iterator[StoringServer]:
    server = StoringServer(broker.port)
    server.connect()
    yield server
    server.disconnect()
    assert server.failures == []


@pytest.fixture
def sent(broker: Broker, tmp_path: Path) -> Iterator[Kept]:
    kept = Kept(tmp_path, broker.port)
    yield kept
    kept.keeper.close()


@pytest.fixture
def alone(tmp_path: Path) -> Iterator[Kept]:
    kept = Kept(tmp_path, None)
    yield kept
    kept.keeper.close()


def bodies(server: StoringServer) -> list[object]:
    return [one.body for held in server.stored.values() for _, one in sorted(held.items())]


def lives(server: StoringServer) -> list[Live]:
    return [one for one in server.others if isinstance(one, Live)]


def noted(server: StoringServer) -> list[tuple[str, str]]:
    return [(body.key, body.by) for body in bodies(server) if isinstance(body, Note)]


def test_whole_job_reaches_the_server_in_order_and_nothing_waits(
    server: StoringServer, sent: Kept
) -> None:
    sent.feed(12.0)
    sent.run.close(12.0, "done")
    assert sent.turn_until(lambda: any(isinstance(b, JobClosed) for b in bodies(server)))
    told = bodies(server)
    assert isinstance(told[0], JobOpened)
    assert [type(body) for body in told[-2:]] == [ResultFormed, JobClosed]
    samples = [s for body in told if isinstance(body, Samples) for s in body.samples]
    assert samples == sent.fed
    assert {"placed"} <= {body.event for body in told if isinstance(body, EventTold)}
    assert [body.cue for body in told if isinstance(body, CueShown)][-1] == "get-ready"
    assert sent.turn_until(lambda: sent.keeper.status() == "unacknowledged=0 link=up spool=ok")


def test_figures_of_the_moment_go_out_with_cue_and_step(server: StoringServer, sent: Kept) -> None:
    sent.feed(8.0)
    assert sent.turn_until(lambda: sent.keeper.status().split()[1] == "link=up")
    sent.feed(10.0)
    assert sent.turn_until(lambda: bool(lives(server)))
    assert (lives(server)[-1].job, lives(server)[-1].cue) == ("j-1", "get-ready")


def command(sent: Kept, id_: str, gate: str, step: str = "prepare") -> Command:
    return Command(
        id=id_, boot=sent.spool.boot, job="j-1", step=step, command="confirm",
        expires_s=sent.now_s + 5.0, gate=gate,
    )  # fmt: skip


def answers(server: StoringServer) -> dict[str, CommandAnswer]:
    return {one.id: one for one in server.others if isinstance(one, CommandAnswer)}


def test_board_ticks_gates_and_is_answered(server: StoringServer, sent: Kept) -> None:
    sent.feed(8.0)
    assert sent.turn_until(lambda: len(server.states()) > 0)
    for id_, gate in (("c1", "fill-plug-opens"), ("c2", "pan-and-filter=stays-on"), ("c3", "xyz")):
        server.publish(BAY_1.topic("command"), encode(command(sent, id_, gate)))
    late = command(sent, "c4", "level-before-drain", step="drain")
    server.publish(BAY_1.topic("command"), encode(late))
    assert sent.turn_until(lambda: len(answers(server)) == 4)
    verdicts = {id_: one.verdict for id_, one in answers(server).items()}
    assert verdicts == {"c1": "accepted", "c2": "accepted", "c3": "refused", "c4": "refused"}
    assert "xyz" in answers(server)["c3"].reason
    assert sent.turn_until(lambda: len(noted(server)) == 2)
    assert noted(server) == [("fill-plug-opens", "board"), ("pan-and-filter", "board")]


def test_dead_broker_blocks_no_turn_and_all_is_on_the_disk(tmp_path: Path) -> None:
    kept = Kept(tmp_path, 1)  # nobody listens there
    longest_s = 0.0
    while kept.now_s < 10.0:
        begun_s = time.monotonic()
        kept.feed(kept.now_s + 0.1)
        longest_s = max(longest_s, time.monotonic() - begun_s)
    assert longest_s < 1.0  # a connection that is waited for takes seconds
    assert kept.keeper.status().split()[1:] == ["link=down", "spool=ok"]
    kept.keeper.close()
    again = Spool(kept.path, BAY_1)
    assert list(again.samples("j-1")) == kept.fed
    again.close()


def test_without_a_broker_all_is_kept(alone: Kept) -> None:
    alone.feed(10.0)
    assert "link=none" in alone.keeper.status()
    alone.keeper.close()
    again = Spool(alone.path, BAY_1)
    assert list(again.samples("j-1")) == alone.fed
    again.close()


def test_settings_of_the_broker_are_those_of_the_bench_file(tmp_path: Path) -> None:
    password, ca = tmp_path / "password", tmp_path / "ca.pem"
    password.write_text("secret\n")
    target = UplinkTarget("broker.example", 8883, "bay-1", str(password), str(ca))
    assert broker_of(target) == BrokerSettings(
        "broker.example", 8883, "bay-1", "secret", is_tls=True, ca_file=ca
    )
    assert broker_of(None) is None


def test_password_is_in_no_text_of_the_settings(tmp_path: Path) -> None:
    password = tmp_path / "password"
    password.write_text("secret")
    settings = broker_of(UplinkTarget("127.0.0.1", 1883, "bay-1", str(password)))
    assert "secret" not in repr(settings)


def test_broker_off_this_machine_without_tls_is_refused() -> None:
    with pytest.raises(InputError, match="TLS"):
        broker_of(UplinkTarget("broker.example"))


def test_password_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    target = UplinkTarget("127.0.0.1", 1883, "bay-1", str(tmp_path / "nowhere"))
    with pytest.raises(BenchFileError, match="nowhere"):
        broker_of(target)
