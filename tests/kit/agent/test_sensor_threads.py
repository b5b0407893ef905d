"""Sensors' threads on the simulated board's clock: they outlive whatever a device does."""

import threading
from collections.abc import Callable, Iterator

import pytest

from drainscale.agent.intake import Intake
from drainscale.agent.sensors import AGAIN_S, Health, read_load_cell, read_thermometer
from drainscale.errors import SensorError, SensorMissingError
from drainscale.ports import PanSensorFrame
from drainscale.quantities.samples import (
    BoardReading,
    PanFault,
    PanReading,
    Sample,
    ScaleCount,
)
from drainscale_sim.board.clock import BoardClock
from drainscale_sim.board.hand_set_world import HandSetWorld

Answer = int | PanSensorFrame | None | Exception


class Scripted:
    """A load cell or thermometer that answers from a list, then with the last for ever."""

    way = "scripted"
    frames_dropped = 0

    def __init__(self, clock: BoardClock, answers: list[Answer]) -> None:
        self._clock, self._answers = clock, answers
        self.is_closed = False

    def _next(self) -> Answer:
        self._clock.sleep(0.1)
        answer = self._answers.pop(0) if len(self._answers) > 1 else self._answers[0]
        if isinstance(answer, Exception):
            raise answer
        return answer

    def close(self) -> None:
        self.is_closed = True


class ScriptedCell(Scripted):
    def read(self, timeout_s: float) -> int | None:  # noqa: ARG002  it is a LoadCell
        answer = self._next()
        assert not isinstance(answer, PanSensorFrame | Exception)
        return answer


class ScriptedThermometer(Scripted):
    def read(self) -> PanSensorFrame | None:
        answer = self._next()
        assert not isinstance(answer, int | Exception)
        return answer


class Rig:
    """Runs one sensor's thread for some seconds of the board's clock."""

    def __init__(self) -> None:
        self.clock = BoardClock(HandSetWorld())
        self.intake = Intake(self.clock, 0.0)
        self.stop = threading.Event()
        self.health = Health("drain")
        self.opened: list[Scripted] = []

    def run(self, work: Callable[[], None], lasts_s: float) -> list[Sample]:
        worker = self.clock.start("sensor", work)
        self.clock.sleep(lasts_s)
        assert worker.is_alive(), "the thread has died"
        self.stop.set()
        assert self.clock.join(worker, 5.0)
        return self.intake.take()

    def load_cell(
        self, openings: list[list[Answer] | Exception], lasts_s: float, *, is_supply: bool = False
    ) -> list[Sample]:
        def open_it() -> ScriptedCell:
            opening = openings.pop(0) if len(openings) > 1 else openings[0]
            if isinstance(opening, Exception):
                raise opening
            self.opened.append(cell := ScriptedCell(self.clock, list(opening)))
            return cell

        def work() -> None:
            read_load_cell(
                open_it, self.intake, self.clock, self.stop, self.health, is_supply=is_supply
            )

        return self.run(work, lasts_s)

    def thermometer(self, openings: list[list[Answer] | Exception], lasts_s: float) -> list[Sample]:
        def open_it() -> ScriptedThermometer:
            opening = openings.pop(0) if len(openings) > 1 else openings[0]
            if isinstance(opening, Exception):
                raise opening
            self.opened.append(found := ScriptedThermometer(self.clock, list(opening)))
            return found

        def work() -> None:
            read_thermometer(open_it, self.intake, self.clock, self.stop, self.health)

        return self.run(work, lasts_s)


@pytest.fixture
def rig() -> Iterator[Rig]:
    made = Rig()
    yield made
    made.stop.set()


def test_counts_come_with_their_scale_and_time(rig: Rig) -> None:
    samples = rig.load_cell([[11, 12, 13]], 0.35, is_supply=True)
    assert samples[:3] == [
        ScaleCount(0.1, 11, True),
        ScaleCount(0.2, 12, True),
        ScaleCount(0.3, 13, True),
    ]
    assert rig.opened[0].is_closed


def test_conversion_that_did_not_come_is_no_sample(rig: Rig) -> None:
    samples = rig.load_cell([[11, None, None, 12]], 0.45)
    assert samples[:2] == [ScaleCount(0.1, 11), ScaleCount(0.4, 12)]


@pytest.mark.parametrize(
    "error",
    [SensorError("bus"), OSError(5, "Input/output error"), RuntimeError("bug"), KeyError("x")],
    ids=["ours", "system", "bug", "key"],
)
def test_cell_that_fails_is_closed_and_opened_again(rig: Rig, error: Exception) -> None:
    samples = rig.load_cell([[11, error], [12]], AGAIN_S + 1.0)
    assert rig.opened[0].is_closed
    assert len(rig.opened) == 2
    assert samples[0] == ScaleCount(0.1, 11)
    assert isinstance(samples[1], ScaleCount)
    assert samples[1].t == pytest.approx(0.3 + AGAIN_S)
    assert samples[1].count == 12
    assert rig.health.failures == 1


def test_cell_that_is_not_there_is_asked_for_until_it_is(rig: Rig) -> None:
    missing = SensorMissingError("no plug")
    samples = rig.load_cell([missing, missing, missing, [11]], 3 * AGAIN_S + 1.0)
    assert rig.health.failures == 3
    assert samples[0].t == pytest.approx(3 * AGAIN_S + 0.1)


def test_lasting_fault_is_logged_once(rig: Rig, caplog: pytest.LogCaptureFixture) -> None:
    rig.load_cell([SensorMissingError("no plug")], 20 * AGAIN_S + 1.0)
    assert rig.health.failures >= 20
    assert len([r for r in caplog.records if "no plug" in r.getMessage()]) == 1


def test_bug_is_logged_with_its_traceback(rig: Rig, caplog: pytest.LogCaptureFixture) -> None:
    rig.load_cell([[RuntimeError("bug")]], 0.5)
    assert [record.exc_info is not None for record in caplog.records] == [True]


def test_thread_ends_soon_though_the_device_stays_away(rig: Rig) -> None:
    rig.load_cell([SensorMissingError("no plug")], 1.0)
    assert rig.clock.now_s() < 1.0 + AGAIN_S


def test_pan_and_board_come_together_twice_a_second(rig: Rig) -> None:
    samples = rig.thermometer([[PanSensorFrame(21.0, 40.0)]], 1.05)
    assert samples[:2] == [PanReading(0.1, 40.0), BoardReading(0.1, 21.0)]
    assert [s.t for s in samples if isinstance(s, PanReading)][:2] == [0.1, 0.6]


def test_fault_of_the_thermocouple_comes_in_place_of_its_reading(rig: Rig) -> None:
    samples = rig.thermometer([[PanSensorFrame(21.0, fault="open")]], 0.3)
    assert samples == [PanFault(0.1, "open"), BoardReading(0.1, 21.0)]


def test_empty_frame_is_no_sample_but_counted(rig: Rig) -> None:
    samples = rig.thermometer([[None, PanSensorFrame(21.0, 40.0)]], 0.9)
    assert samples == [PanReading(0.6, 40.0), BoardReading(0.6, 21.0)]
    assert (rig.health.readings, rig.health.invalid) == (1, 1)


@pytest.mark.parametrize("error", [SensorError("gone"), OSError(5, "I/O"), ValueError("bug")])
def test_thermometer_that_fails_is_opened_again(rig: Rig, error: Exception) -> None:
    frame = PanSensorFrame(21.0, 40.0)
    samples = rig.thermometer([[frame, error], error, [frame]], 2 * AGAIN_S + 2.0)
    pans = [sample.t for sample in samples if isinstance(sample, PanReading)]
    assert pans[0] == 0.1
    assert pans[1] > 2 * AGAIN_S
    assert rig.health.failures == 2
