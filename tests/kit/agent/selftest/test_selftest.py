"""The self-test on the simulated board: sound, and with one fault after the other in it."""

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from tests.kit.agent.benches import COUNTS_PER_KG, SCALE, ZERO, bench_of

from drainscale.agent.bench_file import LoadCellChoice, SpoolPlace, UplinkTarget
from drainscale.agent.command import open_devices
from drainscale.agent.selftest.findings import Finding, Nobody
from drainscale.agent.selftest.selftest import Standing, self_test, told
from drainscale_sim.bench_world import PanFault
from drainscale_sim.board.hand_set_world import HandSetWorld
from drainscale_sim.board.simulated_board import BoardSettings, SimulatedBoard

GRAM = COUNTS_PER_KG / 1000.0
# noise of a sound 20 kg cell: 0.10 g rms at 10/s (50 nV of input noise, HX711 data sheet)
NOISE_g = 0.1


def sound(load_kg: Callable[[float], float] = lambda _t: 0.0) -> Callable[[float], float]:
    random = Random(7)
    return lambda t: ZERO + load_kg(t) * COUNTS_PER_KG + random.gauss(0.0, NOISE_g * GRAM)


class Helper:
    """A person who sees well, and does what is asked in the world."""

    is_there = True

    def __init__(self, board: SimulatedBoard, world: HandSetWorld) -> None:
        self.board, self.world = board, world
        self.load_kg = 0.0
        self.blind_to: tuple[str, ...] = ()
        self.puts_kg = 1.0
        self.press_s = (1.0, 1.3)
        self.lit_when_asked: list[frozenset[str]] = []

    def confirms(self, question: str) -> bool:
        if "lamp" in question:
            self.lit_when_asked.append(self.world.seen[-1][1])
        return not any(word in question for word in self.blind_to)

    def does(self, request: str) -> None:
        self.load_kg = self.puts_kg if request.startswith("Put") else 0.0

    def is_told(self, notice: str) -> None:
        if "foot switch" in notice:
            now_s = self.board.clock.now_s()
            self.world.presses.append((now_s + self.press_s[0], now_s + self.press_s[1]))


@pytest.fixture
def world() -> HandSetWorld:
    world = HandSetWorld(pan_C=21.5)
    world.counts = {"drain": sound(), "supply": sound()}
    return world


@pytest.fixture
def helper(board: SimulatedBoard, world: HandSetWorld) -> Helper:
    helper = Helper(board, world)
    world.counts["drain"] = sound(lambda _t: helper.load_kg)
    return helper


class Bay:
    """Runs the self-test on the board; what a test changes is changed before."""

    def __init__(self, board: SimulatedBoard, folder: Path) -> None:
        self.board = board
        self.bench = bench_of(folder / "spool")
        self.standing = Standing()
        self.lines: list[str] = []

    def run(self, helper: Helper | None = None) -> dict[tuple[str, str], Finding]:
        devices = open_devices(self.bench, self.board.clock, self.board.paths)
        person = helper or Nobody()
        found = told(self_test(self.bench, devices, person, self.standing), self.lines.append)
        return {(one.part, one.check): one for one in found}

    def failures(self, helper: Helper | None = None) -> set[tuple[str, str]]:
        return {key for key, one in self.run(helper).items() if one.verdict == "FAIL"}


@pytest.fixture
def bay(board: SimulatedBoard, tmp_path: Path) -> Bay:
    return Bay(board, tmp_path)


def test_sound_bench_passes_every_check_with_somebody_there(bay: Bay, helper: Helper) -> None:
    found = bay.run(helper)
    assert {key for key, one in found.items() if one.verdict != "ok"} == {("broker", "reached")}
    assert len(found) > 25
    assert bay.lines[-1] == f"{len(found)} checks, 0 failed, 1 not asked"


def test_sound_bench_fails_nothing_with_nobody_there(bay: Bay) -> None:
    found = bay.run()
    assert not [one for one in found.values() if one.verdict == "FAIL"]
    unasked = {key for key, one in found.items() if one.verdict == "not asked"}
    assert unasked == {
        ("broker", "reached"),
        ("drain scale", "load"),
        ("foot switch", "press"),
        ("sounder", "beeps"),
        *(("lamps", lamp) for lamp in ("red", "amber", "blue", "white")),
    }


def test_each_lamp_is_lit_alone_when_it_is_asked_about(bay: Bay, helper: Helper) -> None:
    bay.run(helper)
    assert helper.lit_when_asked == [
        frozenset([lamp]) for lamp in ("red", "amber", "blue", "white")
    ]
    assert helper.world.seen[-1][1] == frozenset()
    assert helper.world.heard[-1][1] is None


def test_both_scales_are_tested_where_there_are_two(bay: Bay) -> None:
    bay.bench = replace(bay.bench, supply_scale=SCALE)
    parts = {part for part, _ in bay.run()}
    assert {"drain scale", "supply scale"} <= parts


# --- faults of a scale -------------------------------------------------------------------------


def test_unplugged_converter_is_found(bay: Bay) -> None:
    bay.board.drain.is_unplugged = True
    assert bay.failures() == {("drain scale", "reads")}


def test_data_line_on_ground_is_found(bay: Bay) -> None:
    bay.board.drain.is_shorted = True
    assert bay.failures() == {("drain scale", "reads")}


def test_silent_converter_is_found(bay: Bay, world: HandSetWorld) -> None:
    world.faults["drain"] = "silent"
    assert bay.failures() == {("drain scale", "reads")}


def test_stuck_converter_is_found(bay: Bay, world: HandSetWorld) -> None:
    world.faults["drain"] = "stuck"
    assert ("drain scale", "alive") in bay.failures()


@pytest.mark.parametrize("end", [9e6, -9e6])
def test_saturated_converter_is_found(bay: Bay, world: HandSetWorld, end: float) -> None:
    world.counts["drain"] = end
    assert ("drain scale", "in range") in bay.failures()


def test_swapped_signal_wires_are_named_with_nobody_there(bay: Bay, world: HandSetWorld) -> None:
    steady = sound()
    world.counts["drain"] = lambda t: -steady(t)
    # the zero of this cell is half a kilogram away from the converter's
    found = bay.run()
    assert found["drain scale", "zero"].verdict == "FAIL"
    assert "A+ and A-" in found["drain scale", "zero"].mend


def test_swapped_signal_wires_are_found_by_a_load(
    bay: Bay, world: HandSetWorld, helper: Helper
) -> None:
    near_zero = replace(SCALE, calibration_counts=(0.0, 5 * COUNTS_PER_KG, 10 * COUNTS_PER_KG))
    bay.bench = replace(bay.bench, scale=near_zero)
    noise = sound()
    world.counts["drain"] = lambda t: -helper.load_kg * COUNTS_PER_KG - (noise(t) - ZERO)
    found = bay.run(helper)
    assert found["drain scale", "zero"].verdict == "ok"
    assert found["drain scale", "load"].verdict == "FAIL"
    assert "A+ and A-" in found["drain scale", "load"].mend


def test_platform_on_its_stops_is_found(bay: Bay, helper: Helper) -> None:
    helper.puts_kg = 0.01
    assert bay.failures(helper) == {("drain scale", "load")}


@pytest.mark.parametrize("settings", [BoardSettings(drain_rate_Hz=80.0)])
def test_wrong_rate_jumper_is_found(bay: Bay) -> None:
    found = bay.run()
    assert found["drain scale", "rate"].verdict == "FAIL"
    assert "80.0 conversions/s" in found["drain scale", "rate"].said


@pytest.mark.parametrize("settings", [BoardSettings(drain_rate_Hz=9.0)])
def test_oscillator_ten_percent_off_is_no_fault(bay: Bay) -> None:
    assert bay.failures() == set()


@pytest.mark.parametrize("settings", [BoardSettings(has_spi=False)])
def test_spi_that_is_not_switched_on_is_found(bay: Bay) -> None:
    bay.bench = replace(bay.bench, load_cell=LoadCellChoice("spi"))
    found = bay.run()
    assert found["drain scale", "opens"].verdict == "FAIL"
    assert "dtparam=spi=on" in found["drain scale", "opens"].said


def test_noise_is_found(bay: Bay, world: HandSetWorld) -> None:
    random = Random(8)
    world.counts["drain"] = lambda _t: ZERO + random.gauss(0.0, 3.0 * GRAM)
    assert ("drain scale", "noise") in bay.failures()


def test_drift_is_found(bay: Bay, world: HandSetWorld) -> None:
    world.counts["drain"] = sound(lambda t: 1e-4 * t)  # 6 g a minute: something drips on it
    assert bay.failures() == {("drain scale", "drift")}


def test_single_wrong_bits_are_found(bay: Bay, world: HandSetWorld) -> None:
    random, steady = Random(9), sound()
    world.counts["drain"] = lambda t: steady(t) + (65536 if random.random() < 0.05 else 0)
    assert ("drain scale", "spikes") in bay.failures()


@pytest.mark.parametrize("settings", [BoardSettings(drain_rate_Hz=80.0)])
@pytest.mark.parametrize("mains_Hz", [50.0, 60.0])
def test_mains_hum_is_found(bay: Bay, world: HandSetWorld, mains_Hz: float) -> None:
    bay.bench = replace(bay.bench, scale=replace(SCALE, rate_Hz=80.0))
    hum = lambda t: 1e-3 * math.sin(2.0 * math.pi * mains_Hz * t)  # noqa: E731  1 g
    world.counts["drain"] = sound(hum)
    found = bay.run()
    assert found["drain scale", "mains hum"].verdict == "FAIL"
    assert f"{mains_Hz:g} Hz" in found["drain scale", "mains hum"].said


def test_load_left_on_the_platform_is_found_unless_it_is_told(
    bay: Bay, world: HandSetWorld
) -> None:
    world.counts["drain"] = sound(lambda _t: 1.5)
    assert bay.failures() == {("drain scale", "zero")}
    bay.standing = Standing(is_loaded=True)
    assert bay.failures() == set()


@pytest.mark.parametrize(
    ("scale", "check"),
    [
        (replace(SCALE, capacity_kg=200.0), "signal"),
        (replace(SCALE, calibration_kg=(0.0, 5000.0, 10000.0)), "signal"),
        (replace(SCALE, calibration_counts=(7e6, 7e6 + 5e5, 7e6 + 1e6)), "headroom"),
        (replace(SCALE, calibration_kg=(0.0, 4.0, 10.0)), "line"),
    ],
    ids=["capacity", "grams", "zero far off", "one weight wrong"],
)
def test_calibration_that_no_cell_can_have_is_found(bay: Bay, scale: object, check: str) -> None:
    bay.bench = replace(bay.bench, scale=scale)  # type: ignore[arg-type]  # given as in the list
    assert ("drain scale", check) in bay.failures()


# --- faults of the thermocouple ------------------------------------------------------------------


@pytest.mark.parametrize("fault", ["open", "short-to-ground", "short-to-supply"])
def test_fault_of_the_thermocouple_is_named(bay: Bay, world: HandSetWorld, fault: PanFault) -> None:
    world.fault_of_pan = fault
    found = bay.run()
    assert found["thermocouple", "junction"].verdict == "FAIL"
    assert fault in found["thermocouple", "junction"].said


def test_silent_thermocouple_is_found(bay: Bay, world: HandSetWorld) -> None:
    world.fault_of_pan = "silent"
    assert bay.failures() == {("thermocouple", "frames")}


@pytest.mark.parametrize("settings", [BoardSettings(has_one_wire=False)])
def test_bus_that_is_not_switched_on_is_found(bay: Bay) -> None:
    found = bay.run()
    assert found["thermocouple", "reads"].verdict == "FAIL"
    assert "dtoverlay=w1-gpio" in found["thermocouple", "reads"].said


def test_wrong_check_sums_are_found(bay: Bay) -> None:
    bay.board.one_wire.next_frames = [bytes(8) + b"\x5a"] * 6
    assert ("thermocouple", "frames") in bay.failures()


@pytest.mark.parametrize(("pan_C", "check"), [(-25.0, "range"), (300.0, "range")])
def test_temperature_that_no_pan_has_is_found(
    bay: Bay, world: HandSetWorld, pan_C: float, check: str
) -> None:
    world.pan_C = pan_C
    assert ("thermocouple", check) in bay.failures()


def test_cold_junction_far_from_the_air_is_found_unless_the_pan_is_warm(
    bay: Bay, world: HandSetWorld
) -> None:
    world.pan_C = world.air_C + 20.0
    assert bay.failures() == {("thermocouple", "against air")}
    bay.standing = Standing(is_warm=True)
    assert bay.failures() == set()


# --- faults of the rest ----------------------------------------------------------------------


def test_foot_switch_that_is_held_down_is_found(bay: Bay, world: HandSetWorld) -> None:
    world.presses.append((0.0, 1e9))
    assert bay.failures() == {("foot switch", "at rest")}


def test_cut_foot_switch_is_found(bay: Bay) -> None:
    bay.board.foot_switch.cut()
    assert bay.failures() == {("foot switch", "at rest")}


@pytest.mark.parametrize("press_s", [(1.0, 1.03), (1.0, 4.0), (60.0, 60.3)])
def test_press_that_does_not_count_is_found(
    bay: Bay, helper: Helper, press_s: tuple[float, float]
) -> None:
    helper.press_s = press_s
    assert bay.failures(helper) == {("foot switch", "press")}


@pytest.mark.parametrize(
    ("word", "key"), [("amber", ("lamps", "amber")), ("hear", ("sounder", "beeps"))]
)
def test_lamp_or_sounder_that_is_not_noticed_is_found(
    bay: Bay, helper: Helper, word: str, key: tuple[str, str]
) -> None:
    helper.blind_to = (word,)
    assert bay.failures(helper) == {key}


def test_spool_whose_folder_cannot_be_is_found(bay: Bay, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    bay.bench = replace(bay.bench, spool=SpoolPlace(str(tmp_path / "file" / "spool")))
    assert bay.failures() == {("spool", "writes")}


def test_trial_file_of_the_spool_goes_away(bay: Bay) -> None:
    bay.run()
    assert list(Path(bay.bench.spool.folder).iterdir()) == []


def test_broker_that_is_not_there_is_found(bay: Bay) -> None:
    bay.bench = replace(bay.bench, uplink=UplinkTarget("127.0.0.1", 1))  # nobody listens there
    assert bay.failures() == {("broker", "reached")}


@pytest.mark.parametrize("settings", [BoardSettings(is_wall_set=False)])
def test_wall_clock_that_was_not_set_is_found(bay: Bay) -> None:
    assert bay.failures() == {("wall clock", "set")}
