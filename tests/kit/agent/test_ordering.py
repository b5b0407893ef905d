"""The next job by the board's order: judged by hand, then over a real broker."""

import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import msgspec
import pytest
from tests.kit.agent.benches import order
from tests.kit.uplink.brokers import (
    PATIENCE_S,
    Broker,
    StoringServer,
    running_mosquitto,
    storing_server,
)

from drainscale.agent.bench_file import Bench, UplinkTarget
from drainscale.agent.devices import Devices
from drainscale.agent.ordering import OrderDesk, checked
from drainscale.agent.program import Finished, Program
from drainscale.errors import JobError
from drainscale.messages.codec import encode
from drainscale.messages.records import Envelope, FaultTold, JobClosed, JobOpened
from drainscale.messages.telegrams import Command, CommandAnswer, JobOrder, Status
from drainscale.messages.topics import BenchId
from drainscale.quantities.job import Job
from drainscale_sim.board.simulated_board import SimulatedBoard

J_7 = JobOrder(job="j-7", procedure=order().procedure, fluid=order().fluid, label="Tarn 6")
J_8 = msgspec.structs.replace(J_7, job="j-8")
TOO_MUCH = replace(order().procedure, allowance_L=9.0)
# a look each simulated half second waits so long: else simulated time runs far ahead of the broker
PACE_S = 0.01
BAY_1 = BenchId("north", "bay-1")


class Heard:
    """A desk, and what it refused."""

    def __init__(self, *begun: str, takes_orders: bool = True) -> None:
        self.refused: list[str] = []
        self.desk = OrderDesk(frozenset(begun), self.refused.append, takes_orders=takes_orders)

    def begun(self) -> str | None:
        due = self.desk.begin()
        return due.job if due else None


# --- the desk --------------------------------------------------------------------------------


def test_an_order_begins_once_however_often_the_broker_hands_it_out() -> None:
    heard = Heard()
    heard.desk.hear(J_7)
    heard.desk.hear(J_7)
    assert [heard.begun(), heard.begun()] == ["j-7", None]
    heard.desk.hear(J_7)
    heard.desk.hear(msgspec.structs.replace(J_7, label="the same job under another label"))
    assert heard.begun() is None


def test_a_job_that_was_begun_before_the_start_is_not_begun_again() -> None:
    heard = Heard("j-7")
    heard.desk.hear(J_7)
    assert heard.begun() is None
    assert heard.refused == []


def test_the_latest_order_counts_and_one_that_is_taken_back_does_not() -> None:
    heard = Heard()
    heard.desk.hear(J_7)
    heard.desk.hear(J_8)
    assert heard.begun() == "j-8"
    heard.desk.hear(J_7)
    heard.desk.hear(None)
    assert heard.begun() is None


@pytest.mark.parametrize(
    ("wrong", "why"),
    [
        (
            msgspec.structs.replace(J_7, procedure=TOO_MUCH),
            r"order for job j-7: \[procedure\] allowance_L = 9.0; allowed: a number from 0 to 5",
        ),
        (
            msgspec.structs.replace(J_7, fluid=replace(order().fluid, density_kg_per_m3=84.5)),
            r"\[fluid\] density_kg_per_m3 = 84.5; allowed: a number from 600 to 1200",
        ),
        (
            msgspec.structs.replace(J_7, procedure=replace(TOO_MUCH, window_C=(45.0, 35.0))),
            r"window_C = \[45.0, 35.0\]; allowed: two numbers, rising, 0 to 130",
        ),
        (msgspec.structs.replace(J_7, job="../j-7"), r"order: job '../j-7': 1 to 64 of A-Z"),
        (msgspec.structs.replace(J_7, job=""), "order: job '': 1 to 64"),
    ],
)
def test_an_order_out_of_bounds_is_refused_with_key_value_and_what_is_allowed(
    wrong: JobOrder, why: str
) -> None:
    with pytest.raises(JobError, match=why):
        checked(wrong)


def test_a_fluid_without_viscosities_is_a_good_order() -> None:
    fluid = replace(order().fluid, viscosity_40C_mm2_per_s=None, viscosity_100C_mm2_per_s=None)
    assert checked(msgspec.structs.replace(J_7, fluid=fluid)).order.fluid == fluid


def test_a_refusal_is_told_once_and_only_when_no_job_runs() -> None:
    heard = Heard()
    heard.desk.hear(msgspec.structs.replace(J_7, procedure=TOO_MUCH))
    assert heard.refused == []  # a job may be running: it is none of its
    assert heard.desk.fault is not None
    assert (heard.begun(), heard.begun()) == (None, None)
    assert heard.refused == [heard.desk.fault]


def test_a_good_order_after_a_wrong_one_ends_the_fault() -> None:
    heard = Heard()
    heard.desk.hear(msgspec.structs.replace(J_7, procedure=TOO_MUCH))
    heard.desk.hear(J_7)
    assert heard.desk.fault is None
    assert heard.begun() == "j-7"
    assert heard.refused == []


def test_a_bench_that_takes_no_orders_says_so() -> None:
    heard = Heard(takes_orders=False)
    heard.desk.hear(J_7)
    assert heard.begun() is None
    assert heard.refused == ["order for job j-7: this bench takes no orders: see takes_orders "
                             "in its bench file"]  # fmt: skip


# --- over a real broker ----------------------------------------------------------------------


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    with running_mosquitto(tmp_path) as started:
        yield started


@pytest.fixture
def server(broker: Broker) -> Iterator[StoringServer]:
    with storing_server(broker.port) as server:
        yield server


class Bay:
    """The program on one board and spool, doing what is ordered; a job lasts 3 s or more."""

    def __init__(
        self, board: SimulatedBoard, bench: Bench, devices: Devices, server: StoringServer
    ) -> None:
        port = server._port
        self.bench = replace(bench, uplink=UplinkTarget("127.0.0.1", port, takes_orders=True))
        self.board, self.devices, self.server = board, devices, server
        self.told: list[Finished] = []
        self.knock_id: str | None = None
        self.meanwhile: Callable[[], None] | None = None  # done once while a job runs
        self.may_end: Callable[[], bool] = lambda: True  # a job lasts at least until then

    def order(self, ordered: JobOrder | None) -> None:
        payload = b"" if ordered is None else encode(ordered)
        self.server.publish(BAY_1.topic("job"), payload, is_retained=True)

    def serve(self, until: Callable[[], bool]) -> None:
        """Serve until something has come."""
        stop, end_s = threading.Event(), time.monotonic() + PATIENCE_S
        program = Program(self.bench, None, self.devices, "boot")

        def look() -> None:
            time.sleep(PACE_S)
            if time.monotonic() > end_s or until():
                stop.set()
            run, loop = program._run, program._loop
            if run is None or loop is None or run.is_closed:
                return
            if self.meanwhile is not None:
                self.meanwhile()
                self.meanwhile = None
            if loop.intake.now_t() > 3.0 and self.may_end():
                run.command(loop.intake.now_t(), "abort", None)

        self.board.clock.call_every(0.5, look)
        program.serve(stop, self.told.append)
        assert until(), "it did not come in time"

    @property
    def jobs(self) -> list[str]:
        return [one.job for one in self.told]

    def records(self) -> list[Envelope]:
        return [one for held in self.server.stored.values() for _, one in sorted(held.items())]

    def opened(self) -> list[tuple[str | None, Job]]:
        bodies = [(one.job, one.body) for one in self.records()]
        return [(job, body.spec) for job, body in bodies if isinstance(body, JobOpened)]

    def faults(self) -> list[tuple[str | None, str]]:
        bodies = [(one.job, one.body) for one in self.records()]
        told = [(job, body) for job, body in bodies if isinstance(body, FaultTold)]
        return [(job, body.text) for job, body in told if body.code == "order"]

    def status_faults(self) -> tuple[str, ...]:
        """What the last status says."""
        told = [one for one in self.server.others if isinstance(one, Status)]
        return told[-1].faults if told else ()

    def has_heard(self) -> bool:
        """Whether it answers a command of now: what was said before has reached it then."""
        answered = {one.id for one in self.server.others if isinstance(one, CommandAnswer)}
        if self.knock_id is None and self.server.states()[-1:] == [("online", "")]:
            self.knock_id = f"knock-{len(answered)}"
            knock = Command(
                id=self.knock_id, boot="none", step="", command="confirm", expires_s=0.0
            )
            self.server.publish(BAY_1.topic("command"), encode(knock))
        return self.knock_id in answered

    def knows(self, job: str) -> Callable[[], bool]:
        """Tell whether the server has stored the job's end."""
        return lambda: any(
            one.job == job and isinstance(one.body, JobClosed) for one in self.records()
        )


@pytest.fixture
def bay(board: SimulatedBoard, bench: Bench, devices: Devices, server: StoringServer) -> Bay:
    return Bay(board, bench, devices, server)


def test_ordered_jobs_are_done_one_after_the_other(bay: Bay) -> None:
    bay.order(J_7)
    bay.meanwhile = lambda: bay.order(J_8)
    bay.serve(bay.knows("j-8"))
    assert bay.jobs == ["j-7", "j-8"]
    spec = bay.bench.with_order(order())
    assert bay.opened() == [("j-7", spec), ("j-8", spec)]


def test_a_finished_job_whose_order_is_still_there_is_not_done_twice(bay: Bay) -> None:
    bay.order(J_7)
    bay.serve(bay.knows("j-7"))
    bay.serve(bay.has_heard)
    assert bay.jobs == ["j-7"]
    bay.order(J_8)
    bay.serve(bay.knows("j-8"))
    assert bay.jobs == ["j-7", "j-8"]


def test_an_order_that_is_taken_back_while_a_job_runs_is_not_begun(bay: Bay) -> None:
    bay.order(J_7)

    def order_and_take_back() -> None:
        bay.order(J_8)
        bay.order(None)

    bay.meanwhile = order_and_take_back
    bay.may_end = bay.has_heard
    bay.serve(lambda: bay.knows("j-7")() and bay.has_heard())
    assert bay.jobs == ["j-7"]


def test_a_wrong_order_is_refused_with_a_clear_fault_and_the_bench_goes_on(bay: Bay) -> None:
    bay.order(msgspec.structs.replace(J_7, procedure=TOO_MUCH))
    bay.serve(lambda: bool(bay.faults()) and bool(bay.status_faults()))
    why = "order for job j-7: [procedure] allowance_L = 9.0; allowed: a number from 0 to 5"
    assert bay.faults() == [(None, why)]
    bay.order(J_8)
    bay.serve(bay.knows("j-8"))
    assert bay.jobs == ["j-8"]
    assert bay.faults() == [(None, why)]


def test_an_order_with_a_job_running_leaves_that_job_as_it_is(bay: Bay) -> None:
    bay.order(J_7)
    bay.meanwhile = lambda: bay.order(msgspec.structs.replace(J_8, procedure=TOO_MUCH))
    bay.serve(lambda: bool(bay.faults()))
    assert bay.jobs == ["j-7"]
    assert [job for job, _ in bay.faults()] == [None]  # none of j-7's
