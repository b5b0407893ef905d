"""``drainscale calibrate`` on the simulated board: with sound weights, and with wrong ones."""

import re
import tomllib
from pathlib import Path
from random import Random

import pytest
from tests.kit.agent.benches import COUNTS_PER_KG, SCALE, ZERO, bench_of

from drainscale.agent.calibrate.command import calibrate, parser
from drainscale.agent.calibrate.weighing import Reading, outcome, toml_lines
from drainscale.agent.command import open_devices
from drainscale.errors import InputError, SensorError
from drainscale_sim.board.hand_set_world import HandSetWorld
from drainscale_sim.board.simulated_board import SimulatedBoard

TRUE_PER_KG = COUNTS_PER_KG * 1.003  # the cell is not what the bench file says now


class Weigher:
    """Somebody who puts on what is asked for, or something else."""

    is_there = True

    def __init__(self) -> None:
        self.kg = 0.0
        self.wrong: dict[float, float] = {}
        self.asked: list[str] = []

    def confirms(self, question: str) -> bool:
        raise AssertionError(f"not to be asked: {question}")

    def does(self, request: str) -> None:
        self.asked.append(request)
        found = re.match(r"Put (\S+) kg", request)
        kg = float(found[1]) if found else 0.0
        self.kg = self.wrong.get(kg, kg)

    def is_told(self, notice: str) -> None:
        raise AssertionError(f"not to be told: {notice}")


@pytest.fixture
def weigher() -> Weigher:
    return Weigher()


@pytest.fixture
def world(weigher: Weigher) -> HandSetWorld:
    random = Random(3)
    world = HandSetWorld(pan_C=21.0)
    world.counts["drain"] = lambda _t: ZERO + weigher.kg * TRUE_PER_KG + random.gauss(0.0, 25.0)
    return world


def run(board: SimulatedBoard, folder: Path, person: Weigher, *more: str) -> int:
    bench = bench_of(folder / "spool")
    options = parser().parse_args(["--config", "unused", "--seconds", "5", *more])
    return calibrate(bench, open_devices(bench, board.clock, board.paths), person, options)


def test_weights_up_and_down_give_the_lines_of_the_bench_file(
    board: SimulatedBoard, tmp_path: Path, weigher: Weigher, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(board, tmp_path, weigher) == 0
    said = capsys.readouterr().out
    assert len(weigher.asked) == 11
    assert "[scale]\ncalibration_kg = [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]" in said
    counts = [
        float(one) for one in re.findall(r"calibration_counts = \[(.*)\]", said)[0].split(",")
    ]
    assert counts == pytest.approx([ZERO + kg * TRUE_PER_KG for kg in range(0, 11, 2)], abs=15.0)


def test_a_wrong_weight_is_named_and_no_line_to_paste_is_printed(
    board: SimulatedBoard, tmp_path: Path, weigher: Weigher, capsys: pytest.CaptureFixture[str]
) -> None:
    weigher.wrong = {6.0: 6.05}
    assert run(board, tmp_path, weigher, "--weights", "0", "2", "4", "6", "8", "10") == 1
    said = capsys.readouterr().out
    assert "FAIL" in said
    assert "a weight is wrong" in said
    assert "calibration_counts" not in said


def test_a_scale_that_is_not_there_or_too_light_is_refused(
    board: SimulatedBoard, tmp_path: Path, weigher: Weigher
) -> None:
    with pytest.raises(InputError, match="no \\[supply_scale\\]"):
        run(board, tmp_path, weigher, "--supply")
    with pytest.raises(InputError, match="weights from 0 to 20 kg, not 25 kg"):
        run(board, tmp_path, weigher, "--weights", "0", "25")
    assert not weigher.asked


def test_a_silent_converter_is_an_error(
    board: SimulatedBoard, tmp_path: Path, weigher: Weigher, world: HandSetWorld
) -> None:
    with pytest.raises(SensorError, match="20 needed"):
        run(board, tmp_path, weigher, "--seconds", "1")


def test_up_and_down_apart_is_a_complaint() -> None:
    taken = [Reading(0.0, ZERO, 20.0), Reading(10.0, ZERO + 10.0 * COUNTS_PER_KG, 20.0)]
    later = Reading(0.0, ZERO + 0.004 * COUNTS_PER_KG, 20.0)
    assert outcome(taken, SCALE, 0.0003).complaints == []
    found = outcome([*taken, later], SCALE, 0.0003)
    assert found.up_down_kg == pytest.approx(0.004, rel=1e-3)
    assert "the cell creeps" in found.complaints[0]


@pytest.mark.parametrize(
    ("taken", "says"),
    [
        ([Reading(5.0, 1e6, 1.0), Reading(5.0, 1e6, 1.0)], "1 different weights"),
        ([Reading(0.0, 0.0, 1.0), Reading(2.0, 9.0, 1.0), Reading(4.0, 5.0, 1.0)], "one way"),
    ],
)
def test_readings_that_make_no_calibration_are_refused(taken: list[Reading], says: str) -> None:
    with pytest.raises(InputError, match=says):
        outcome(taken, SCALE, 0.0003)


def test_lines_for_the_bench_file_say_what_the_calibration_is() -> None:
    read = tomllib.loads("\n".join(toml_lines(SCALE)))
    assert tuple(read["calibration_kg"]) == SCALE.calibration_kg
    assert tuple(read["calibration_counts"]) == SCALE.calibration_counts
    assert read["calibration_u_kg"] == SCALE.calibration_u_kg
