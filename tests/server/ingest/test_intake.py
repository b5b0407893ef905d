"""Kit, broker and server over real sockets: the kit's own uplink sends, the intake stores."""

import logging
import threading
from collections.abc import Iterator
from typing import Any

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion
from tests.kit.uplink.brokers import PATIENCE_S, Broker, Cable, eventually, free_port
from tests.server.ingest.conftest import Uplinks
from tests.server.made_up import (
    BAY_3,
    OPENED,
    RECEIVED_S,
    numbered,
    packs,
    payloads,
    samples_of,
    service,
    stored_numbers,
    through,
)

from drainscale.messages.codec import decode, encode
from drainscale.messages.records import Envelope, EventTold, JobClosed, Samples
from drainscale.messages.telegrams import Ack, Command, CommandAnswer, JobOrder, Live, Status
from drainscale.messages.topics import BenchId
from drainscale.quantities.samples import Sample
from drainscale.uplink.mqtt import MqttUplink
from drainscale.uplink.spool import Spool
from drainscale.uplink.writer import SpoolWriter
from drainscale_server.ingest.connection import BATCH_N, BrokerAccess
from drainscale_server.ingest.intake import Intake
from drainscale_server.ingest.keeping import Keeper
from drainscale_server.ingest.listeners import Stored
from drainscale_server.ingest.reading import Arrived
from drainscale_server.store import jobs
from drainscale_server.store.store import Store

EVENT = EventTold(t=1.0, event="dripped", step="drain")


class Talker:
    """Anybody at the broker: says what a test wants said, and hears the acknowledgements."""

    def __init__(self, port: int) -> None:
        self._changed = threading.Condition()
        self.acks: list[Ack] = []
        ready = threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2, client_id="talker")
        self._client.max_inflight_messages_set(2000)
        self._client.on_subscribe = lambda *_: ready.set()
        self._client.on_message = self._on_message
        self._client.connect("127.0.0.1", port)
        self._client.subscribe(BAY_3.topic("ack"), 1)
        self._client.loop_start()
        assert ready.wait(PATIENCE_S)

    def say(self, *messages: Arrived) -> None:
        """Say it, and wait until the broker has it."""
        for one in messages:
            last = self._client.publish(one.topic, one.payload, qos=1, retain=one.is_retained)
        last.wait_for_publish(PATIENCE_S)

    def is_told(self, through: int, boot: str = "b1") -> bool:
        """Wait for an acknowledgement."""
        with self._changed:
            ack = Ack(boot=boot, through=through)
            return self._changed.wait_for(lambda: ack in self.acks, PATIENCE_S)

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def _on_message(self, _client: Client, _data: Any, message: Any) -> None:
        with self._changed:
            ack = decode(message.topic, bytes(message.payload))
            assert isinstance(ack, Ack)
            self.acks.append(ack)
            self._changed.notify_all()


@pytest.fixture
def talker(broker: Broker) -> Iterator[Talker]:
    talker = Talker(broker.port)
    yield talker
    talker.close()


def samples_in(store: Store, job: str = "j-1") -> list[Sample]:
    found: list[Sample] = []
    for payload in store.packs(job):
        message = decode(BAY_3.topic("samples"), payload)
        assert isinstance(message, Envelope)
        assert isinstance(message.body, Samples)
        found += message.body.samples
    return found


def give(writer: SpoolWriter, first: int, n: int) -> None:
    for sample in samples_of(first, n):
        writer.add(sample)
    assert writer.flush(PATIENCE_S)


def is_all_acknowledged(spool: Spool) -> bool:
    return all(one.through == one.last for one in spool.standings())


def test_a_job_of_the_kit_arrives_whole_and_the_kit_hears_of_it(
    broker: Broker, intake: Intake, store: Store, spool: Spool, writer: SpoolWriter,
    uplink_to: Uplinks,
) -> None:  # fmt: skip
    with uplink_to(broker.port):
        writer.begin_job("j-1", OPENED)
        give(writer, 0, 700)
        writer.put(EVENT)
        writer.close_job(JobClosed(t=70.0, outcome="done"))
        assert writer.flush(PATIENCE_S)
        assert eventually(lambda: is_all_acknowledged(spool))
        # acknowledged and closed: the kit may forget it
        assert eventually(lambda: spool.messages("b1", 1, 99) == [])
    assert samples_in(store) == samples_of(0, 700)
    assert [one.event for one in store.events("j-1")] == ["dripped"]
    job = store.job("j-1")
    assert job is not None
    assert job.state == "done"


def test_nothing_is_missing_or_stored_twice_when_the_broker_goes_and_comes(
    broker: Broker, intake: Intake, store: Store, spool: Spool, writer: SpoolWriter,
    uplink_to: Uplinks,
) -> None:  # fmt: skip
    with uplink_to(broker.port):
        writer.begin_job("j-1", OPENED)
        for turn in range(3):
            give(writer, turn * 400, 200)
            broker.kill()
            give(writer, turn * 400 + 200, 200)
            broker.start()
        assert eventually(lambda: is_all_acknowledged(spool))
    assert intake.counters["connects"] >= 2  # and subscribed anew each time
    assert samples_in(store) == samples_of(0, 1200)
    assert stored_numbers(store) == list(range(1, spool.standings()[0].last + 1))


def test_a_cut_cable_loses_nothing(
    broker: Broker, cable: Cable, store: Store, spool: Spool, writer: SpoolWriter,
    uplink_to: Uplinks,
) -> None:  # fmt: skip
    intake = Intake(store, BrokerAccess(port=cable.port), pause_s=0.02)
    intake.start()
    with uplink_to(broker.port):
        writer.begin_job("j-1", OPENED)
        for turn in range(3):
            assert eventually(lambda: intake.is_connected)
            give(writer, turn * 200, 100)
            cable.cut()
            assert eventually(lambda: not intake.is_connected)
            give(writer, turn * 200 + 100, 100)
            cable.mend()
        assert eventually(lambda: is_all_acknowledged(spool))
    intake.stop(PATIENCE_S)
    assert samples_in(store) == samples_of(0, 600)


def test_a_broker_that_keeps_sessions_hands_out_what_came_while_the_server_was_away(
    a_mosquitto: Broker, store: Store
) -> None:
    taken_in(store, a_mosquitto.port, 0)  # only makes the session
    talker = Talker(a_mosquitto.port)
    talker.say(*packs(1, 20))
    talker.close()
    taken_in(store, a_mosquitto.port, 20)


def taken_in(store: Store, port: int, n: int) -> None:
    """Let a server run until it has so many messages."""
    intake = Intake(store, BrokerAccess(port=port))
    intake.start()
    try:
        assert eventually(lambda: intake.is_connected)
        assert eventually(lambda: stored_numbers(store) == list(range(1, n + 1)))
    finally:
        intake.stop(PATIENCE_S)


def test_a_storm_of_messages_is_stored_whole(intake: Intake, store: Store, talker: Talker) -> None:
    n = 3 * BATCH_N
    talker.say(*packs(1, n))
    assert talker.is_told(n)
    assert stored_numbers(store) == list(range(1, n + 1))


def test_poison_among_good_messages_stops_nothing(
    intake: Intake, store: Store, talker: Talker
) -> None:
    def said(text: bytes, leaf: str = "event") -> Arrived:
        return Arrived(f"drainscale/north/bay-3/{leaf}", text, RECEIVED_S)

    poison = [
        said(b""), said(b"\xff\xfe"), said(b"{" * 5000), said(b"[" * 5000, "samples"),
        said(b'{"format":1}'), said(b'{"format":9,"boot":"b1","seq":2}'), said(b"null", "status"),
        said(b'{"format":1e999}', "live"), said(b"x", "photo"), said(b"x" * 100_000, "samples"),
        Arrived("drainscale/NORTH/bay-3/event", b"{}", RECEIVED_S),
    ]  # fmt: skip
    talker.say(*packs(1, 1), *poison, *packs(3, 2))
    assert talker.is_told(4)
    assert intake.is_connected
    assert intake.counters["connects"] == 1
    assert len(store.quarantined().rows) == len(poison)
    assert stored_numbers(store) == [1, 3, 4]


def test_listeners_hear_what_is_new_once_and_in_order(
    broker: Broker, store: Store, talker: Talker
) -> None:
    heard: list[Stored] = []
    intake = Intake(store, BrokerAccess(port=broker.port))
    intake.listeners.stored.append(heard.extend)
    intake.start()
    assert eventually(lambda: intake.is_connected)
    talker.say(*service(), *service(), *packs(10, 1))
    assert talker.is_told(10)
    intake.stop(PATIENCE_S)
    assert [one.seq for one in heard] == list(range(1, 11))
    assert all(one.job == "j-1" for one in heard)


def test_a_listener_that_raises_stops_neither_the_others_nor_the_storing(
    intake: Intake, store: Store, talker: Talker, caplog: pytest.LogCaptureFixture
) -> None:
    heard: list[Stored] = []

    def broken(_: list[Stored]) -> None:
        raise RuntimeError("a listener's bug")

    intake.listeners.stored += [broken, heard.extend]
    with caplog.at_level(logging.CRITICAL):
        talker.say(*packs(1, 5))
        assert talker.is_told(5)
        assert eventually(lambda: len(heard) == 5)
    assert intake.counters["listener-failures"] >= 1


def test_figures_status_and_answers_are_handed_on(intake: Intake, talker: Talker) -> None:
    live = Live(site="north", bench="bay-3", boot="b1", now_s=3.0)
    status = Status(site="north", bench="bay-3", boot="b1", state="online")
    answer = CommandAnswer(id="c1", boot="b1", verdict="accepted", now_s=3.0)
    heard: list[object] = []
    intake.listeners.live.append(heard.append)
    intake.listeners.status.append(lambda one, is_retained: heard.append((one, is_retained)))
    intake.listeners.answer.append(lambda one, bench_id: heard.append((one, bench_id)))
    talker.say(
        Arrived(BAY_3.topic("live"), encode(live), 0.0),
        Arrived(BAY_3.topic("status"), encode(status), 0.0),
        Arrived(BAY_3.topic("answer"), encode(answer), 0.0),
    )
    assert eventually(lambda: len(heard) == 3)
    assert heard == [live, (status, False), (answer, BAY_3)]


def test_whoever_comes_later_is_told_the_status_that_the_broker_kept(
    broker: Broker, store: Store, talker: Talker
) -> None:
    status = Status(site="north", bench="bay-3", boot="b1", state="online", kit_version="0.1.0")
    talker.say(Arrived(BAY_3.topic("status"), encode(status), 0.0, is_retained=True))
    talker.say(*packs(1, 1))
    heard: list[tuple[Status, bool]] = []
    intake = Intake(store, BrokerAccess(port=broker.port))
    intake.listeners.status.append(lambda one, is_retained: heard.append((one, is_retained)))
    intake.start()
    assert eventually(lambda: bool(heard))
    intake.stop(PATIENCE_S)
    assert heard == [(status, True)]
    bench = store.bench("north", "bay-3")
    assert bench is not None
    assert bench.status == status


def test_what_the_server_orders_reaches_the_kit(
    broker: Broker, intake: Intake, spool: Spool, uplink_to: Uplinks
) -> None:
    command = Command(id="c1", boot="b1", step="level", command="confirm", expires_s=15.0)
    order = JobOrder(job="j-2", procedure=OPENED.spec.procedure, fluid=OPENED.spec.fluid)
    assert intake.publish(BAY_3.topic("job"), encode(order), is_retained=True)
    orders: list[object] = []
    with uplink_to(broker.port) as uplink:
        assert eventually(lambda: uplink.is_connected)
        assert intake.publish(BAY_3.topic("command"), encode(command))
        assert eventually(lambda: command in taken(uplink, orders))
    # a retained one may come twice: when it is said, and on subscribing
    assert set(map(repr, orders[:-1])) == {repr(order)}
    assert orders[-1] == command


def taken(uplink: MqttUplink, orders: list[object]) -> list[object]:
    orders += uplink.orders()
    return orders


def test_without_a_broker_nothing_is_kept_for_later(store: Store) -> None:
    intake = Intake(store, BrokerAccess(port=free_port()), pause_s=0.01)
    intake.start()
    assert eventually(lambda: intake.counters["broker-failures"] >= 2)
    assert not intake.publish(BAY_3.topic("command"), b"{}")
    assert (intake.fault or "").startswith("no broker: 127.0.0.1")
    assert intake.is_alive
    intake.stop(PATIENCE_S)


def test_a_store_that_refuses_for_a_while_gets_it_all_later(
    broker: Broker, intake: Intake, store: Store, spool: Spool, writer: SpoolWriter,
    uplink_to: Uplinks,
) -> None:  # fmt: skip
    with uplink_to(broker.port):
        writer.begin_job("j-1", OPENED)
        give(writer, 0, 50)
        assert eventually(lambda: is_all_acknowledged(spool))
        store._file.writer.execute("PRAGMA max_page_count = 1")  # as if the disk were full
        give(writer, 50, 1000)
        assert eventually(lambda: "the store refuses" in (intake.fault or ""))
        assert not is_all_acknowledged(spool)
        connects_n = intake.counters["connects"]
        assert eventually(lambda: intake.counters["connects"] > connects_n)
        assert "the store refuses" in (intake.fault or "")  # the broker is there: that is not all
        store._file.writer.execute("PRAGMA max_page_count = 1000000")
        assert eventually(lambda: is_all_acknowledged(spool))
        assert eventually(lambda: intake.fault is None)
    assert samples_in(store) == samples_of(0, 1050)


def test_what_is_in_quarantine_is_read_again_at_the_start(
    broker: Broker, store: Store, monkeypatch: pytest.MonkeyPatch, talker: Talker
) -> None:
    with monkeypatch.context() as older:
        older.setattr(jobs, "closed", raise_bug)
        Keeper(store).keep(service())
    assert store.quarantined().rows
    intake = Intake(store, BrokerAccess(port=broker.port))
    intake.start()
    assert eventually(lambda: not store.quarantined().rows)
    intake.stop(PATIENCE_S)
    assert payloads(service()) == [row.payload for row in store.messages("j-1")]


def raise_bug(*_: object) -> None:
    raise RuntimeError("a bug")


def test_benches_are_acknowledged_apart(intake: Intake, store: Store, talker: Talker) -> None:
    bay_4 = BenchId("north", "bay-4")
    talker.say(*packs(1, 3), numbered(1, EVENT, bench_id=bay_4, boot="b9"))
    assert talker.is_told(3)
    assert eventually(lambda: through(store, "b9") == 1)
    assert all(ack.boot == "b1" for ack in talker.acks)
