"""Starting over at the bench: presses, gates asked again, a kill while it cools."""

from collections.abc import Iterable
from copy import deepcopy

import pytest
from tests.kit.core.overrun import Cooled, overrun

from drainscale.agent.job_run import JobRun
from drainscale.messages.records import Body, Note, Samples
from drainscale.procedure.steps import Mode, Step
from drainscale.quantities.samples import PanReading, Sample, StepMark

ENGINE_GATES = ["brake-held", "wheels-clear", "nobody-under"]


class Memory:
    """A keeper that remembers as the spool does: samples in packs, records between them."""

    def __init__(self) -> None:
        self.all: list[Body] = []

    def samples(self, samples: Iterable[Sample]) -> None:
        self.all.append(Samples(base_time_s=0.0, is_clock_set=True, samples=tuple(samples)))

    def tell(self, body: Body) -> None:
        self.all.append(body)

    def notes(self, by: str) -> list[str]:
        return [one.key for one in self.all if isinstance(one, Note) and one.by == by]


class Bay:
    """A job fed by a made-up bench, its marks left out: presses make them."""

    def __init__(self) -> None:
        self.memory = Memory()
        self.bench: Cooled = overrun()
        self.run = JobRun(self.bench.job, self.memory)
        self.fed_n = 0
        for gate in (
            "selector-park", "parking-brake", "level-before-level", "engine-idling", *ENGINE_GATES
        ):  # fmt: skip
            self.run.tick_gates(0.0, [gate])
        self.catch_up()

    def catch_up(self) -> None:
        """Feed what the bench has said since, a second at a time."""
        for sample in self.bench.samples[self.fed_n :]:
            self.run.feed([sample])
            if isinstance(sample, PanReading):
                self.run.look(sample.t)
        self.fed_n = len(self.bench.samples)

    def press(self) -> None:
        """Step on the switch, and let a second pass."""
        self.run.pressed(self.bench.t)
        self.run.feed([StepMark(self.bench.t, step) for step in self.run.take_marks()])
        self.bench.wait(1.0)
        self.catch_up()

    @property
    def reason(self) -> str:
        """Why the cue is what it is."""
        assert self.run._cue is not None
        return self.run._cue.reason


@pytest.fixture(scope="module")
def overran() -> Bay:
    return Bay()


@pytest.fixture(scope="module")
def cooled(overran: Bay) -> Bay:
    """Cold enough to start again."""
    bay = deepcopy(overran)
    bay.press()  # torqued
    bay.press()  # engine off
    bay.bench.cool_to(28.0)
    bay.catch_up()
    return bay


@pytest.fixture
def bay(overran: Bay) -> Bay:
    """The plug is shut, too hot."""
    return deepcopy(overran)


@pytest.fixture
def cold_bay(cooled: Bay) -> Bay:
    return deepcopy(cooled)


def test_first_press_says_torqued_and_the_second_that_it_cools(bay: Bay) -> None:
    assert bay.reason == "start-over"
    bay.press()
    assert bay.run.service.situation.step is Step.SEAL
    bay.press()
    assert bay.run.service.situation.mode is Mode.COOLING
    assert bay.reason == "cooling"
    assert bay.memory.notes("foot-switch") == ["check-plug-torqued"]


def test_cold_enough_asks_anew_what_was_answered_for_the_first_start(cold_bay: Bay) -> None:
    bay = cold_bay
    assert bay.reason == "enough-back-in"
    before = len(bay.memory.notes("foot-switch"))
    bay.press()
    assert bay.memory.notes("foot-switch")[before:] == ["enough-back-in", *ENGINE_GATES]
    assert bay.run.service.situation.step is Step.CIRCULATE
    assert bay.run.service.situation.is_engine_on
    assert bay.reason == "shift"


def test_the_record_notes_each_start_for_itself(cold_bay: Bay) -> None:
    bay = cold_bay
    bay.press()
    noted = bay.memory.notes("kit")
    assert [noted.count(gate) for gate in ENGINE_GATES] == [2, 2, 2]
    assert noted.count("fill-plug-opens") == 1  # asked before the drain, once


def test_a_kit_that_was_killed_while_it_cooled_goes_on_as_it_was(cold_bay: Bay) -> None:
    bay = cold_bay
    again = JobRun(bay.bench.job, Memory())
    again.replay(bay.memory.all)
    for one in (bay.run, again):
        one.look(bay.bench.t + 1.0)
    assert again._cue == bay.run._cue
    assert again.service.situation == bay.run.service.situation
    assert again._held() == bay.run._held()
    assert [body for body in again._keeper.all if isinstance(body, Note)] == []  # type: ignore[attr-defined]  # the memory above
    assert again.answer() == bay.run.answer()


def test_who_ticked_the_list_for_the_end_closes_the_job_as_it_is(bay: Bay) -> None:
    bay.press()
    bay.run.tick_gates(
        bay.bench.t,
        ["plugs-torqued", "washers-renewed", "wiped-dry", "volumes-recorded", "used-oil-logged"],
    )
    bay.press()
    assert bay.run.service.situation.step is Step.DONE


def test_board_answers_a_gate_anew_after_a_kill_and_a_start_over(cold_bay: Bay) -> None:
    memory = Memory()
    again = JobRun(cold_bay.bench.job, memory)
    again.replay(cold_bay.memory.all)
    assert again.service.situation.is_standing
    again.command(cold_bay.bench.t, "confirm", "brake-held")  # as before the first start
    assert memory.notes("board") == ["brake-held"]
