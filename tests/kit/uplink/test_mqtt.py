import socket
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any

import pytest
from tests.kit.uplink.brokers import (
    PATIENCE_S,
    Broker,
    Cable,
    StoringServer,
    eventually,
    free_port,
)
from tests.kit.uplink.made_up import BAY_3, OPENED, samples_of

from drainscale.messages.codec import encode
from drainscale.messages.records import EventTold, JobClosed, Samples
from drainscale.messages.telegrams import (
    Ack,
    Command,
    CommandAnswer,
    JobOrder,
    Live,
    Status,
)
from drainscale.quantities.samples import Sample
from drainscale.uplink import mqtt as mqtt_module
from drainscale.uplink.broker import BrokerSettings
from drainscale.uplink.link import Link
from drainscale.uplink.mqtt import JobTakenBack, MqttUplink, Order, Retry
from drainscale.uplink.session import Session
from drainscale.uplink.spool import Spool
from drainscale.uplink.writer import SpoolWriter

QUICK = Retry(first_s=0.02, longest_s=0.1)
EVENT = EventTold(t=1.0, event="dripped", step="drain")
Uplinks = Callable[..., AbstractContextManager[MqttUplink]]


@pytest.fixture
def uplink_to(spool: Spool) -> Uplinks:
    """Make uplinks of this spool to a port of this machine."""

    @contextmanager
    def make(port: int, patience_s: float = 10.0) -> Iterator[MqttUplink]:
        uplink = MqttUplink(
            spool,
            BrokerSettings(port=port),
            now_s=lambda: 12.5,
            kit_version="0.1.0",
            retry=QUICK,
            session=Session(patience_s=patience_s),
        )
        uplink.start()
        yield uplink
        assert uplink.is_alive
        uplink.stop(PATIENCE_S)
        assert not uplink.is_alive

    return make


def taken(uplink: MqttUplink, orders: list[Order]) -> list[Order]:
    orders += uplink.orders()
    return orders


def give(writer: SpoolWriter, first: int, n: int) -> None:
    for sample in samples_of(first, n):
        writer.add(sample)
    assert writer.flush(PATIENCE_S)


def samples_in(server: StoringServer, boot: str = "b1") -> list[Sample]:
    bodies = [server.stored[boot][seq].body for seq in sorted(server.stored.get(boot, {}))]
    return [s for body in bodies if isinstance(body, Samples) for s in body.samples]


def has_all(server: StoringServer, spool: Spool) -> bool:
    return all(server.through(one.boot) == one.last for one in spool.standings())


def test_a_job_arrives_whole_and_is_then_forgotten(
    broker: Broker, server: StoringServer, spool: Spool, writer: SpoolWriter, uplink_to: Uplinks
) -> None:
    with uplink_to(broker.port):
        writer.begin_job("j-1", OPENED)
        give(writer, 0, 700)
        writer.put(EVENT)
        writer.close_job(JobClosed(t=70.0, outcome="done"))
        assert writer.flush(PATIENCE_S)
        assert server.wait_for(lambda: has_all(server, spool))
        assert eventually(lambda: spool.messages("b1", 1, 99) == [])
    assert samples_in(server) == samples_of(0, 700)
    assert {one.job for one in server.stored["b1"].values()} == {"j-1"}


def test_an_open_job_stays_in_the_spool_though_the_server_has_it(
    broker: Broker, server: StoringServer, spool: Spool, writer: SpoolWriter, uplink_to: Uplinks
) -> None:
    with uplink_to(broker.port):
        writer.begin_job("j-1", OPENED)
        give(writer, 0, 300)
        last = spool.standings()[0].last
        assert eventually(lambda: spool.standings()[0].through == last)
    assert list(spool.samples("j-1")) == samples_of(0, 300)


def test_nothing_is_lost_and_nothing_stored_twice_when_the_broker_goes_and_comes(
    broker: Broker, server: StoringServer, spool: Spool, writer: SpoolWriter, uplink_to: Uplinks
) -> None:
    with uplink_to(broker.port) as uplink:
        writer.begin_job("j-1", OPENED)
        for turn in range(3):
            give(writer, turn * 400, 200)
            assert eventually(lambda: uplink.is_connected)
            broker.kill()
            server.disconnect()
            give(writer, turn * 400 + 200, 200)
            broker.start()
            server.connect()
        assert server.wait_for(lambda: has_all(server, spool))
        assert uplink.counters["link-failures"] >= 3
    assert samples_in(server) == samples_of(0, 1200)


def test_a_pulled_cable_is_survived_with_all_sent_again_above_what_is_acknowledged(
    server: StoringServer, spool: Spool, writer: SpoolWriter, cable: Cable, uplink_to: Uplinks
) -> None:
    server.is_mute = True
    with uplink_to(cable.port) as uplink:
        writer.begin_job("j-1", OPENED)
        give(writer, 0, 500)
        assert server.wait_for(lambda: has_all(server, spool))
        last = spool.standings()[0].last
        cable.cut()
        assert eventually(lambda: not uplink.is_connected)
        server.is_mute = False
        cable.mend()
        assert eventually(lambda: spool.standings()[0].through == last)
    assert server.repeats_n >= last
    assert samples_in(server) == samples_of(0, 500)


def test_a_silent_server_is_sent_it_again_on_the_same_connection(
    broker: Broker, server: StoringServer, spool: Spool, writer: SpoolWriter, uplink_to: Uplinks
) -> None:
    server.is_mute = True
    with uplink_to(broker.port, patience_s=0.2) as uplink:
        writer.begin_job("j-1", OPENED)
        assert server.wait_for(lambda: server.repeats_n >= 1)
        server.is_mute = False
        assert eventually(lambda: spool.standings()[0].through == 1)
        assert uplink.counters["connects"] == 1
        assert uplink.counters["sent-again"] >= 1


def test_what_an_earlier_start_left_is_sent_first(
    broker: Broker, server: StoringServer, tmp_path: Path
) -> None:
    old = Spool(tmp_path / "s", BAY_3, boot="old")
    with SpoolWriter(old) as writer:
        writer.begin_job("j-1", OPENED)
        give(writer, 0, 300)
    old.close()
    new = Spool(tmp_path / "s", BAY_3, boot="new")
    with SpoolWriter(new, running=new.open_job()) as writer:
        give(writer, 300, 100)
    uplink = MqttUplink(new, BrokerSettings(port=broker.port), now_s=lambda: 0.0, retry=QUICK)
    uplink.start()
    assert server.wait_for(lambda: has_all(server, new))
    uplink.stop()
    new.close()
    assert list(server.stored) == ["old", "new"]
    assert samples_in(server, "old") + samples_in(server, "new") == samples_of(0, 400)


def test_status_says_online_and_then_stopped(
    broker: Broker, server: StoringServer, uplink_to: Uplinks
) -> None:
    with uplink_to(broker.port) as uplink:
        assert server.wait_for(lambda: ("online", "") in server.states())
        uplink.report(job="j-1", step="drain", faults=("pan",))
        assert server.wait_for(lambda: "drain" in [getattr(x, "step", None) for x in server.others])
    assert server.wait_for(lambda: server.states()[-1] == ("offline", "stopped"))
    last = server.others[-1]
    assert isinstance(last, Status)
    assert (last.job, last.faults, last.kit_version) == ("j-1", ("pan",), "0.1.0")


def test_status_tells_what_is_still_to_come(
    broker: Broker, server: StoringServer, spool: Spool, writer: SpoolWriter, uplink_to: Uplinks
) -> None:
    server.is_mute = True
    writer.begin_job("j-1", OPENED)
    give(writer, 0, 200)
    last = spool.standings()[0].last
    with uplink_to(broker.port):
        assert server.wait_for(lambda: len(server.states()) > 0)
    status = next(one for one in server.others if isinstance(one, Status))
    assert [(one.boot, one.first, one.last) for one in status.kept] == [("b1", 1, last)]


def test_the_last_will_says_lost_and_the_next_connect_online(
    server: StoringServer, cable: Cable, uplink_to: Uplinks
) -> None:
    with uplink_to(cable.port):
        assert server.wait_for(lambda: ("online", "") in server.states())
        cable.cut()
        assert server.wait_for(lambda: server.states()[-1] == ("offline", "lost"))
        cable.mend()
        assert server.wait_for(lambda: server.states()[-1] == ("online", ""))


def test_whoever_comes_later_is_told_the_status(
    broker: Broker, server: StoringServer, uplink_to: Uplinks
) -> None:
    with uplink_to(broker.port):
        assert server.wait_for(lambda: ("online", "") in server.states())
        late = StoringServer(broker.port)
        server.disconnect()  # the two have one client id
        late.connect()
        assert late.wait_for(lambda: ("online", "") in late.states())
        late.disconnect()


def test_figures_go_out_as_they_are_shown(
    broker: Broker, server: StoringServer, uplink_to: Uplinks
) -> None:
    live = Live(site="north", bench="bay-3", boot="b1", now_s=3.0, cue="open")
    with uplink_to(broker.port) as uplink:
        assert server.wait_for(lambda: len(server.states()) > 0)
        uplink.show(live)
        assert server.wait_for(lambda: live in server.others)


def test_a_command_comes_through_and_its_answer_goes_back(
    broker: Broker, server: StoringServer, uplink_to: Uplinks
) -> None:
    command = Command(id="c1", boot="b1", step="level", command="confirm", expires_s=15.0)
    answer = CommandAnswer(id="c1", boot="b1", verdict="accepted", now_s=12.0)
    orders: list[Order] = []
    with uplink_to(broker.port) as uplink:
        assert server.wait_for(lambda: len(server.states()) > 0)
        server.publish(BAY_3.topic("command"), encode(command))
        assert eventually(lambda: bool(taken(uplink, orders)))
        uplink.answer(answer)
        assert server.wait_for(lambda: answer in server.others)
    assert orders == [command]


def test_a_job_waits_for_the_kit_and_can_be_taken_back(
    broker: Broker, server: StoringServer, uplink_to: Uplinks
) -> None:
    spec = OPENED.spec
    order = JobOrder(job="j-2", procedure=spec.procedure, fluid=spec.fluid)
    orders: list[Order] = []
    server.publish(BAY_3.topic("job"), encode(order), is_retained=True)
    with uplink_to(broker.port) as uplink:
        assert eventually(lambda: order in taken(uplink, orders))
        server.publish(BAY_3.topic("job"), b"", is_retained=True)
        assert eventually(lambda: JobTakenBack() in taken(uplink, orders))
    # a broker may hand out what is retained while the same is on its way: twice is allowed
    assert set(map(type, orders[:-1])) == {JobOrder}
    assert orders[-1] == JobTakenBack()


@pytest.mark.parametrize(
    ("leaf", "payload"),
    [
        ("ack", b"\xff\x00"),
        ("command", b'{"format":1}'),
        ("job", b'{"format":2}'),
        ("ack", encode(Ack(boot="b1", through=10**6))),
        ("ack", encode(Ack(boot="b1", through=-3))),
    ],
)
def test_nonsense_from_the_broker_is_counted_and_nothing_else(
    leaf: str,
    payload: bytes,
    a_mosquitto: Broker,
    spool: Spool,
    writer: SpoolWriter,
    uplink_to: Uplinks,
) -> None:
    server = StoringServer(a_mosquitto.port)
    server.connect()
    with uplink_to(a_mosquitto.port) as uplink:
        assert eventually(lambda: uplink.is_connected)
        server.publish(BAY_3.topic(leaf), payload)
        writer.begin_job("j-1", OPENED)
        assert eventually(lambda: spool.standings()[0].through == 1)
        assert uplink.orders() == []
        if payload != encode(Ack(boot="b1", through=-3)):  # that is only no news
            assert eventually(lambda: uplink.counters["bad-messages"] == 1)
        assert uplink.counters["connects"] == 1
    server.disconnect()


def test_a_callback_that_raises_is_seen_and_the_connection_goes_on(
    broker: Broker,
    server: StoringServer,
    spool: Spool,
    writer: SpoolWriter,
    uplink_to: Uplinks,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    def fail(*_: Any) -> None:
        raise RuntimeError("a bug in a callback")

    monkeypatch.setattr(Link, "_on_publish", fail)
    fail.__name__ = "_on_publish"
    with uplink_to(broker.port) as uplink:
        writer.begin_job("j-1", OPENED)
        assert eventually(lambda: spool.standings()[0].through == 1)
        assert uplink.counters["callback-failures"] >= 1
        assert uplink.counters["connects"] == 1
    assert "a bug in a callback" in caplog.text


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_the_bare_package_dies_unseen_of_a_callback_that_raises(a_mosquitto: Broker) -> None:
    # why ``link`` has its own thread and guards; if this fails, an upgrade has changed it
    server = StoringServer(a_mosquitto.port)

    def fail(*_: Any) -> None:
        raise RuntimeError("a bug in a callback")

    server.connect()
    client = server._client
    assert client is not None
    client.on_message = fail
    thread = client._thread
    assert thread is not None
    server.publish("drainscale/north/bay-3/status", b"{}")
    thread.join(PATIENCE_S)
    assert not thread.is_alive()
    assert client.is_connected()  # so it says
    client.disconnect()
    client.loop_stop()


def test_a_bug_in_our_own_thread_is_seen_and_the_next_connection_goes_on(
    broker: Broker,
    server: StoringServer,
    spool: Spool,
    writer: SpoolWriter,
    uplink_to: Uplinks,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with uplink_to(broker.port) as uplink:
        assert eventually(lambda: uplink.is_connected)
        monkeypatch.setattr(Session, "due", lambda *_: 1 / 0)
        assert eventually(lambda: uplink.counters["uplink-failures"] >= 1)
        monkeypatch.undo()
        writer.begin_job("j-1", OPENED)
        assert eventually(lambda: spool.standings()[0].through == 1)


@pytest.fixture(params=["nobody listens", "never answers", "hangs up", "talks nonsense"])
def dead_port(request: pytest.FixtureRequest) -> Iterator[int]:
    """Give a port where no broker is, in each of the ways that a broker can be dead."""
    if request.param == "nobody listens":
        yield free_port()
        return
    listener = socket.create_server(("127.0.0.1", 0))
    taken: list[socket.socket] = []

    def take() -> None:
        while True:
            try:
                one, _ = listener.accept()
            except OSError:
                return
            taken.append(one)
            if request.param == "talks nonsense":
                one.sendall(b"\xf0\xff\xff\xff\x7f" * 10)
            if request.param == "hangs up":
                one.close()

    thread = threading.Thread(target=take)
    thread.start()
    yield listener.getsockname()[1]
    listener.shutdown(socket.SHUT_RDWR)
    listener.close()
    thread.join(PATIENCE_S)
    for one in taken:
        one.close()


def test_a_dead_broker_blocks_nothing(
    dead_port: int, spool: Spool, writer: SpoolWriter, uplink_to: Uplinks
) -> None:
    live = Live(site="north", bench="bay-3", boot="b1", now_s=3.0)
    with uplink_to(dead_port) as uplink:
        writer.begin_job("j-1", OPENED)
        longest_s = 0.0
        for sample in samples_of(0, 2000):
            before_s = time.monotonic()
            writer.add(sample)
            uplink.show(live)
            uplink.report(step="drain")
            uplink.orders()
            longest_s = max(longest_s, time.monotonic() - before_s)
        assert writer.flush(PATIENCE_S)
        assert not uplink.is_connected
    # a connect waits 5 s: whoever waited for it would show
    assert longest_s < 2.0
    assert list(spool.samples("j-1")) == samples_of(0, 2000)


def test_a_full_disk_does_not_cost_the_link(
    a_mosquitto: Broker,
    spool: Spool,
    writer: SpoolWriter,
    uplink_to: Uplinks,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def refuse(*_: Any) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr(mqtt_module, "DISK_AGAIN_S", 0.05)
    server = StoringServer(a_mosquitto.port)
    server.connect()
    with uplink_to(a_mosquitto.port) as uplink, monkeypatch.context() as full:
        full.setattr(Spool, "acknowledge", refuse)
        writer.begin_job("j-1", OPENED)
        assert eventually(lambda: uplink.counters["spool-failures"] >= 2)
        assert spool.standings()[0].through == 0
        full.undo()
        assert eventually(lambda: spool.standings()[0].through == 1)
        assert uplink.counters["connects"] == 1
        assert server.repeats_n == 0
    server.disconnect()


def test_a_status_field_that_does_not_exist_is_a_bug(spool: Spool) -> None:
    uplink = MqttUplink(spool, BrokerSettings(), now_s=lambda: 0.0)
    with pytest.raises(TypeError, match="weather"):
        uplink.report(weather="fine")
    uplink.stop()


def test_pauses_double_up_to_the_longest_with_some_chance() -> None:
    retry = Retry(first_s=1.0, longest_s=60.0)
    for failures_n, full_s in [(1, 1.0), (2, 2.0), (4, 8.0), (7, 60.0), (1000, 60.0)]:
        pauses = [retry.pause_s(failures_n) for _ in range(50)]
        assert all(0.5 * full_s <= pause_s <= full_s for pause_s in pauses)
        assert len(set(pauses)) > 40
