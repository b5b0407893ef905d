"""The demo in closed loop: what the kit's process tells, how it is followed, how it ends."""

import subprocess
import sys
import threading
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

import msgspec
import pytest
from rich.console import Console
from tests.kit.agent.benches import bench_of, order
from tests.simulation.processes import children, ends

from drainscale.agent.command import open_devices
from drainscale.agent.program import Program
from drainscale.signals.vocabulary import vocabulary
from drainscale_sim.board.hand_set_world import HandSetWorld
from drainscale_sim.board.simulated_board import SimulatedBoard
from drainscale_sim.closed_loop.judging import Judged
from drainscale_sim.closed_loop.orders import answered_on_the_board
from drainscale_sim.demo import panels
from drainscale_sim.demo.closed_loop import SEED, closed_loop
from drainscale_sim.demo.ending import what_went_wrong
from drainscale_sim.demo.running import Running
from drainscale_sim.demo.snapshot import Snapshot, Told
from drainscale_sim.demo.telling import Ended, Line, Report, read, write
from drainscale_sim.demo.watcher import WatchedWires, Watcher
from drainscale_sim.score.truth import Truth

WARMING = Snapshot(t=600.0, step="warm", cue="wait", fluid_C=31.5, U_fluid_K=1.2)
GOOD = Judged(
    name="small",
    is_done=True,
    verdict="closed-in-window",
    outcome="closed-in-window",
    shut_C=38.0,
    window_C=(35.0, 45.0),
    excess_mL=45.0,
    thin_mL=40.0,
    drained_off_mL=1.0,
    added_off_g=1.0,
    spilled_off_g=0.1,
    attempts=1,
    took_s=1500.0,
    presses=4,
)


def report(
    t: float,
    *told: Told,
    lit: Iterable[str] = ("white",),
    sounds: bool = False,
    presses: int = 0,
    cue: str = "wait",
) -> Report:
    return Report(replace(WARMING, t=t, cue=cue), told, frozenset(lit), sounds, presses)


def running(*lines: Line) -> Running:
    return Running([write(line) for line in lines], about_s=1000.0)


# --- what the kit's process tells ------------------------------------------------------------


@pytest.fixture
def watched(tmp_path: Path) -> list[Line]:
    """Eight seconds of the agent on a board; a foot is on the switch from 3 s to 3.3 s."""
    said: list[Line] = []
    world = HandSetWorld(pan_C=21.5, presses=[(3.0, 3.3)])
    wires = WatchedWires(world)
    watcher = Watcher(wires, said.append)
    folder = tmp_path / "board"
    folder.mkdir()
    board = SimulatedBoard(wires, folder)
    with board.installed():
        bench = bench_of(tmp_path / "spool")
        devices = open_devices(bench, board.clock, board.paths)
        gates = answered_on_the_board(order().procedure)
        program = Program(bench, order(), devices, "simulated", gates, watcher)
        stop = threading.Event()
        board.clock.call_at(8.0, stop.set)
        finished = program.run(stop)
        watcher.ended(finished.answer, is_done=finished.is_done)
    return said


def test_the_kit_tells_figures_lamps_and_presses_as_the_pins_have_them(
    watched: list[Line],
) -> None:
    *looks, last = watched
    reports = [line for line in looks if isinstance(line, Report)]
    assert len(reports) == len(looks) >= 12
    assert sum(line.presses for line in reports) == 1
    pressed = next(line for line in reports if line.presses)
    assert pressed.now.t == pytest.approx(3.5, abs=0.51)
    for line in reports[1:]:
        assert vocabulary().cues[line.now.cue].lamp in line.lit
    assert isinstance(last, Ended)
    assert not last.is_done
    assert last.answer["level"]["verdict"] == "not-measured"


def test_a_line_that_was_written_reads_the_same() -> None:
    line = report(1.0, Told(0.5, "placed", "warm"), lit=("blue", "white"), sounds=True, presses=2)
    ended = Ended(True, {"level": {}}, (), 1)
    assert read(write(line)) == line
    assert read(write(ended)) == ended
    assert write(line).count(b"\n") == 1


# --- how it is followed ----------------------------------------------------------------------


def test_no_look_is_shown_before_its_time_and_none_is_left_out() -> None:
    course = running(*(report(n * 0.5, Told(n * 0.5, "placed", "warm")) for n in range(10)))
    assert [event.t for event in course.advance(1.2)] == [0.0, 0.5, 1.0]
    assert (course.t, course.now.t) == (1.2, 1.0)
    assert course.advance(1.4) == []
    assert [event.t for event in course.advance(100.0)] == [1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5]
    assert course.is_over


def test_a_course_that_the_kit_ended_is_done_and_has_its_record() -> None:
    course = running(report(0.5), Ended(True, {"net": 1}, (Told(0.9, "lifted", "seal"),), 1))
    course.advance(10.0)
    assert course.is_over
    assert (course.now.step, course.answer) == ("done", {"net": 1})
    assert [event.event for event in course.told] == ["lifted", "foot-switch"]
    assert course.duration_s == course.t == 0.9


def test_a_kit_that_breaks_off_leaves_no_record_and_no_step_done() -> None:
    course = running(report(0.5), report(1.0))
    course.advance(10.0)
    assert course.is_over
    assert (course.now.step, course.answer) == ("warm", None)


def test_a_lamp_that_flashes_counts_as_lit_until_the_cue_changes() -> None:
    course = running(
        report(0.5, lit=["blue"]), report(1.0, lit=[]), report(4.0, lit=[]),
        report(4.5, lit=["blue"]), report(5.0, lit=["white"], cue="go-on"), report(9.0),
    )  # fmt: skip
    lit = []
    for until_s in (1.0, 4.0, 4.5, 5.0):
        course.advance(until_s)
        lit.append(course.signals.lit(course.now.t))
    assert lit == [{"blue"}, set(), {"blue"}, {"white"}]


def test_the_lamp_that_the_board_lights_is_drawn_and_not_the_one_it_should() -> None:
    def drawn(course: Running) -> list[str]:
        console = Console(width=60, color_system=None)
        with console.capture() as capture:
            console.print(panels.cue(course.now, 0.0, course.signals))
        return [line.split()[0] for line in capture.get().splitlines()[:4]]

    course = running(report(0.5, lit=["amber"]), report(9.0, lit=[]))
    course.advance(0.5)
    assert drawn(course) == ["○", "●", "○", "○"]  # red, amber, blue, white
    course.advance(9.0)
    assert drawn(course) == ["○"] * 4


def test_presses_of_the_foot_switch_are_counted_and_told() -> None:
    course = running(report(0.5, presses=1), report(1.0), report(1.5, presses=1))
    course.advance(10.0)
    assert course.signals.presses == 2
    assert [(event.t, event.event) for event in course.told] == [
        (0.5, "foot-switch"),
        (1.5, "foot-switch"),
    ]


# --- how it ends -----------------------------------------------------------------------------

Json = Callable[[dict[str, Any]], dict[str, Any]]


def test_a_service_that_the_kit_led_well_ended_as_it_should(answer_json: Json) -> None:
    assert what_went_wrong(answer_json({}), "done", None, GOOD) == []


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"excess_mL": 61.0}, "sealed closed-in-window at 38.0 °C, +61 mL above the rim"),
        ({"shut_C": 45.1}, "sealed closed-in-window at 45.1 °C, +45 mL above the rim"),
    ],
)
def test_a_wrong_level_or_a_plug_shut_outside_the_window_is_told(
    answer_json: Json, changed: dict[str, Any], told: str
) -> None:
    wrong = what_went_wrong(answer_json({}), "done", None, replace(GOOD, **changed))
    assert wrong == [told]


def test_a_figure_whose_truth_is_outside_U_is_told(answer_json: Json, truth_json: Json) -> None:
    truth = msgspec.convert(truth_json({}), Truth)
    answer = answer_json({"net.volume_20C_L": 0.37})
    wrong = what_went_wrong(answer, "done", truth, GOOD)
    assert wrong == ["net, at 20 °C: the truth is outside U"]


def test_a_kit_that_was_killed_ends_the_demo_and_leaves_its_world_alive() -> None:
    with closed_loop("standpipe", SEED) as loop:
        loop.running.advance(20.0)
        loop.kit.kill()
        while not loop.running.is_over:
            loop.running.advance(loop.running.t + 100.0)
        assert loop.outcome().broken == ["the kit's process ended with -9"]
        assert loop.world.now_s() >= 20.0


def test_a_whole_service_with_its_server_ends_well_in_lines(tmp_path: Path) -> None:
    ended = subprocess.run(
        [sys.executable, "-m", "drainscale", "demo", "--fast", "--out", str(tmp_path / "out")],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=280,
        check=False,
    )
    said = ended.stdout
    assert ended.returncode == 0, ended.stderr
    assert said.startswith("board http://127.0.0.1:")
    assert said.index("STEP prepare") < said.index("CUE OPEN") < said.index("CUE SHUT")
    assert said.index("CUE SHUT") < said.index("STEP done")
    assert 3 <= said.count("foot switch pressed") <= 5
    assert "outside U" not in said
    assert "closed-in-window      right" in said
    (document,) = (tmp_path / "out").iterdir()
    assert said.splitlines()[-1] == f"record {document}"
    assert document.read_bytes().startswith(b"%PDF-")


def test_a_demo_that_is_killed_outright_leaves_no_process_behind(tmp_path: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-u", "-m", "drainscale", "demo", "--speed", "1"],
        stdout=subprocess.PIPE,
        cwd=tmp_path,
    ) as demo:
        assert demo.stdout is not None
        while b"STEP prepare" not in demo.stdout.readline():
            assert demo.poll() is None
        others = children(demo.pid)
        demo.kill()
    assert len(others) == 3  # world, server, kit
    assert all(ends(pid) for pid in others)


def test_without_a_server_nothing_is_served_or_saved(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "drainscale", "demo", "--no-server", "--speed", "1"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, cwd=tmp_path) as demo:
        assert demo.stdout is not None
        assert b"STEP prepare" in demo.stdout.readline()
        assert len(children(demo.pid)) == 2
        demo.terminate()
    assert demo.returncode == 128 + 15
    assert list(tmp_path.iterdir()) == []
