"""The agent's loop on the simulated board, under the Pi's own packages."""

import logging
import re
import threading
from collections.abc import Callable, Iterable
from dataclasses import replace
from itertools import pairwise
from random import Random

import pytest
from tests.kit.agent.benches import COUNTS_PER_KG, ZERO, order

from drainscale.agent.bench_file import Bench
from drainscale.agent.command import open_devices
from drainscale.agent.devices import Devices
from drainscale.agent.job_run import JobRun
from drainscale.agent.loop import Loop
from drainscale.core import Live
from drainscale.errors import SensorMissingError
from drainscale.messages.records import Body, CueShown, EventTold, FaultTold, JobClosed, Note
from drainscale.ports import FootEvent, FootSwitch, Indicator
from drainscale.procedure.steps import Step
from drainscale.quantities.samples import (
    BoardReading,
    PanReading,
    Sample,
    ScaleCount,
    StepMark,
)
from drainscale_sim.board.hand_set_world import HandSetWorld
from drainscale_sim.board.simulated_board import SimulatedBoard


class Memory:
    """A keeper that remembers."""

    def __init__(self) -> None:
        self.kept: list[Sample] = []
        self.told: list[Body] = []
        self.lives: list[Live] = []
        self.turns = 0
        self.settled_at_turn: list[int] = []

    def samples(self, samples: Iterable[Sample]) -> None:
        self.kept += samples

    def tell(self, body: Body) -> None:
        self.told.append(body)

    def turn(self, live: Live | None) -> None:
        self.turns += 1
        if live is not None:
            self.lives.append(live)

    def settle(self, timeout_s: float) -> bool:
        self.settled_at_turn.append(self.turns)
        return timeout_s > 0.0

    def status(self) -> str:
        return "spool=ok"

    def cues(self) -> list[str]:
        return [one.cue for one in self.told if isinstance(one, CueShown)]

    def faults(self) -> list[str]:
        return [one.code for one in self.told if isinstance(one, FaultTold)]

    def events(self) -> list[tuple[str, str | None]]:
        return [(one.event, one.sensor) for one in self.told if isinstance(one, EventTold)]


class Bay:
    """Runs a loop for some seconds of the board's clock."""

    def __init__(self, board: SimulatedBoard, bench: Bench, devices: Devices) -> None:
        self.board, self.bench, self.devices = board, bench, devices
        self.memory = Memory()
        self.run_ = JobRun(bench.with_order(order()), self.memory)
        self.is_muted = False

    def at(self, t_s: float, do: Callable[[], None]) -> None:
        self.board.clock.call_at(t_s, do)

    def run(self, until_s: float) -> Loop:
        stop = threading.Event()
        self.at(until_s, stop.set)
        clock = self.board.clock
        loop = Loop(self.devices, self.run_, self.memory, clock.now_s(), is_muted=self.is_muted)
        try:
            loop.run(stop)
        finally:
            self.devices.close()
        return loop


@pytest.fixture
def world() -> HandSetWorld:
    random = Random(5)
    world = HandSetWorld(pan_C=21.5)
    world.counts["drain"] = lambda t: (
        ZERO + (1.0 if t > 3.0 else 0.0) * COUNTS_PER_KG + random.gauss(0.0, 20.0)
    )
    return world


@pytest.fixture
def bay(board: SimulatedBoard, bench: Bench, devices: Devices) -> Bay:
    return Bay(board, bench, devices)


def lit_from(world: HandSetWorld, t_s: float) -> set[str]:
    return {lamp for t, lit in world.seen if t >= t_s for lamp in lit}


def test_all_sensors_are_kept_in_time_order_at_their_rates(bay: Bay) -> None:
    bay.run(20.0)
    times = [sample.t for sample in bay.memory.kept]
    assert times == sorted(times)
    kinds = {kind: sum(isinstance(s, kind) for s in bay.memory.kept)
             for kind in (ScaleCount, PanReading, BoardReading)}  # fmt: skip
    assert kinds[ScaleCount] == pytest.approx(191, abs=2)  # 10/s, and 9 settle
    assert kinds[PanReading] == kinds[BoardReading] == pytest.approx(40, abs=1)
    assert not any(isinstance(s, ScaleCount) and s.is_supply for s in bay.memory.kept)


def test_second_scale_is_read_where_there_is_one(bay: Bay) -> None:
    bay.bench = replace(bay.bench, supply_scale=bay.bench.scale)
    bay.devices = open_devices(bay.bench, bay.board.clock, bay.board.paths)
    bay.run_ = JobRun(bay.bench.with_order(order()), bay.memory)
    bay.run(5.0)
    sides = {s.is_supply for s in bay.memory.kept if isinstance(s, ScaleCount)}
    assert sides == {True, False}


def test_loop_turns_twenty_times_a_second_and_looks_twice(bay: Bay) -> None:
    bay.run(20.0)
    assert bay.memory.turns == pytest.approx(400, abs=10)
    assert len(bay.memory.lives) == pytest.approx(40, abs=3)
    assert all(b.t > a.t for a, b in pairwise(bay.memory.lives))


def test_lamps_show_the_cue_and_are_dark_at_the_end(bay: Bay, world: HandSetWorld) -> None:
    bay.run(15.0)
    assert bay.memory.cues()[-1] == "get-ready"  # the gates before the drain are open
    assert lit_from(world, 10.0) == {"amber"}
    assert world.seen[-1][1] == frozenset()
    assert world.heard[-1][1] is None


def test_pins_are_free_for_the_next_run(bay: Bay, world: HandSetWorld) -> None:
    bay.run(3.0)
    bay.run_ = JobRun(bay.bench.with_order(order()), bay.memory)
    bay.run(6.0)
    assert lit_from(world, 3.2)


def test_press_of_the_foot_switch_answers_gates(bay: Bay, world: HandSetWorld) -> None:
    world.presses = [(8.0, 8.3)]
    bay.run(10.0)
    notes = [(one.key, one.by, one.t) for one in bay.memory.told if isinstance(one, Note)]
    assert [(key, by) for key, by, _ in notes] == [
        ("fill-plug-opens", "foot-switch"),
        ("level-before-drain", "foot-switch"),
    ]
    assert all(8.3 <= t <= 8.6 for *_, t in notes)


def test_press_is_answered_once_it_is_kept_and_a_needless_one_otherwise(
    bay: Bay, world: HandSetWorld
) -> None:
    world.presses = [(8.0, 8.3), (12.0, 12.3)]
    bay.run(15.0)
    changes = [(t, pitch_Hz) for t, pitch_Hz in world.heard if t > 8.0]
    beeps = [(t, end - t) for (t, pitch_Hz), (end, _) in pairwise(changes) if pitch_Hz]
    assert [length for _, length in beeps] == pytest.approx([0.1, 0.1, 0.45, 0.45], abs=0.06)
    assert 8.3 <= beeps[0][0] <= 8.7
    assert 12.3 <= beeps[2][0] <= 12.7
    assert len(bay.memory.settled_at_turn) == 2


def test_cue_plays_on_while_a_disk_hangs_and_the_next_press_does_not_wait_for_it(
    bay: Bay, world: HandSetWorld, monkeypatch: pytest.MonkeyPatch
) -> None:
    def hang(timeout_s: float) -> bool:
        bay.board.clock.sleep(timeout_s)
        return False

    monkeypatch.setattr(bay.memory, "settle", hang)
    world.presses = [(8.0, 8.3), (12.0, 12.3)]
    bay.run(15.0)
    answers = [t for t, pitch_Hz in world.heard if pitch_Hz and t > 8.0]
    assert 9.3 <= answers[0] <= 9.6  # a second after it was pressed, and no later
    assert 12.3 <= answers[2] <= 12.6
    # 'get ready' goes on and off once a second
    assert [t for t, _ in world.seen if 8.4 <= t <= 9.3]


def test_job_that_is_stopped_while_its_list_is_open_stays_open(bay: Bay) -> None:
    bay.run_.feed([PanReading(0.0, 21.5), StepMark(0.1, Step.DONE)])
    bay.run(3.0)
    assert bay.run_.is_done
    assert not bay.run_.is_closed
    assert not [one for one in bay.memory.told if isinstance(one, JobClosed)]


def test_job_is_closed_by_the_press_that_answers_its_list(bay: Bay, world: HandSetWorld) -> None:
    bay.run_.feed([PanReading(0.0, 21.5), StepMark(0.1, Step.DONE)])
    world.presses = [(3.0, 3.3), (6.0, 6.3)]  # the plug's torque was not told before
    bay.run(20.0)
    assert [one.outcome for one in bay.memory.told if isinstance(one, JobClosed)] == ["done"]
    beeps = [t for t, pitch_Hz in world.heard if pitch_Hz == 1600.0 and t > 6.3]
    assert len(beeps) == 2  # the answer was heard to its end
    assert world.seen[-1][1] == frozenset()


@pytest.mark.parametrize("press", [(8.0, 8.03), (5.0, 9.0), (0.0, 9.0)])
def test_knock_or_a_thing_on_the_switch_is_no_press(
    bay: Bay, world: HandSetWorld, press: tuple[float, float]
) -> None:
    world.presses = [press]
    bay.run(10.0)
    assert not [one for one in bay.memory.told if isinstance(one, Note)]


def test_silent_scale_is_a_fault_and_comes_back(bay: Bay, world: HandSetWorld) -> None:
    bay.run_.tick_gates(0.0, ["fill-plug-opens", "level-before-drain", "pan-and-filter=stays-on"])
    bay.at(10.0, lambda: world.faults.__setitem__("drain", "silent"))
    bay.at(20.0, world.faults.clear)
    bay.run(35.0)
    assert ("sensor-fault", "scale") in bay.memory.events()
    assert ("sensor-restored", "scale") in bay.memory.events()
    assert "fault" in bay.memory.cues()
    assert bay.memory.cues()[-1] != "fault"


def test_plug_of_the_thermocouple_may_be_pulled_and_put_back(bay: Bay) -> None:
    tree = bay.board.one_wire
    bay.at(10.0, lambda: setattr(tree, "is_cut", True))
    bay.at(140.0, lambda: setattr(tree, "is_cut", False))  # the kernel has taken its folder away
    loop = bay.run(165.0)
    assert ("sensor-fault", "pan") in bay.memory.events()
    assert ("sensor-restored", "pan") in bay.memory.events()
    assert loop.health["pan"].failures > 0
    late = [s for s in bay.memory.kept if isinstance(s, PanReading) and s.t > 155.0]
    assert len(late) > 15


def test_bench_with_every_plug_out_shows_a_fault(bay: Bay, world: HandSetWorld) -> None:
    bay.board.drain.is_unplugged = True
    bay.board.one_wire.is_cut = True
    bay.run(12.0)
    assert bay.memory.kept == []
    assert bay.memory.cues() == ["fault"]
    assert lit_from(world, 6.0) == {"amber"}
    assert any(pitch_Hz for t, pitch_Hz in world.heard if t >= 5.0)


def test_bench_without_lamps_and_foot_switch_still_measures(bay: Bay) -> None:
    def no_lamps() -> Indicator:
        raise SensorMissingError("no pins")

    def no_switch() -> FootSwitch:
        raise SensorMissingError("no pins")

    bay.devices = replace(bay.devices, indicator=no_lamps, foot_switch=no_switch)
    bay.run(10.0)
    assert ("placed", None) in bay.memory.events()
    assert bay.memory.faults() == ["lamps", "foot-switch"]


def test_lamps_and_switch_that_fail_in_the_middle_are_told_once_and_end_nothing(bay: Bay) -> None:
    class Broken:
        def show(self, lit: frozenset[str]) -> None:
            raise RuntimeError(f"GPIO busy: {sorted(lit)}"[:9])

        def sound(self, pitch_Hz: float | None) -> None:
            raise RuntimeError(f"GPIO busy: {pitch_Hz}"[:9])

        def events(self) -> tuple[FootEvent, ...]:
            raise OSError(5, "Input/output error")

        def close(self) -> None:
            raise RuntimeError("GPIO busy")

    bay.devices = replace(bay.devices, indicator=Broken, foot_switch=Broken)
    bay.run(10.0)
    assert ("placed", None) in bay.memory.events()
    assert bay.memory.faults() == ["lamps", "foot-switch"]


def test_foot_switch_whose_plug_is_pulled_is_told(bay: Bay) -> None:
    bay.at(5.0, bay.board.foot_switch.cut)
    bay.run(8.0)
    assert bay.memory.faults() == ["foot-switch"]


def test_muted_bench_is_silent_for_what_can_wait(bay: Bay, world: HandSetWorld) -> None:
    bay.is_muted = True
    bay.run(15.0)
    assert bay.memory.cues()[-1] == "get-ready"
    assert not any(pitch_Hz for _, pitch_Hz in world.heard)


def test_status_line_comes_once_a_minute_with_what_matters(
    bay: Bay, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO)
    bay.run(130.0)
    lines = [r.getMessage() for r in caplog.records if r.getMessage().startswith("status ")]
    assert len(lines) == 3
    assert re.fullmatch(
        r"status step=prepare cue=get-ready samples=\d+ drain=\d+/0/0 pan=\d+/0/0 spool=ok",
        lines[-1],
    )


def test_job_that_is_aborted_ends_the_loop(bay: Bay) -> None:
    bay.at(8.0, lambda: bay.run_.command(8.0, "abort", None))
    bay.run(60.0)
    assert bay.board.clock.now_s() < 10.0
    assert [type(one).__name__ for one in bay.memory.told[-2:]] == ["ResultFormed", "JobClosed"]
