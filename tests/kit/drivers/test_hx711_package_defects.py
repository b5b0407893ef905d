"""What the bare package ``hx711`` does wrong, and that ours does not: each defect twice.

Where the bare package hangs, it hangs in a thread of the simulated clock for a long simulated
time, and is let go at the end by a converter that answers.
"""

import inspect
import logging
import sys
import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib import metadata
from pathlib import Path
from random import Random
from typing import Any

import pytest

from drainscale.drivers import hx711_package
from drainscale.drivers.hx711_bitbang import BitbangLoadCell
from drainscale.errors import SensorRefusedError
from drainscale.pins import pins
from drainscale_sim.board.hand_set_world import HandSetWorld, sequence_of
from drainscale_sim.board.simulated_board import BoardSettings, SimulatedBoard

WIRING = pins().scale.drain
LONG_S = 10.0  # the package itself says that it gives up after 0.4 s
STALL_S = 80e-6  # longer than the 60 us that power the converter down


@pytest.fixture
def settings() -> BoardSettings:
    return BoardSettings(drain_rate_Hz=80.0)


@pytest.fixture
def bare(board: SimulatedBoard) -> Iterator[Any]:
    """The package as it is, on the simulated board."""
    package = sys.modules["hx711"]
    yield package.HX711(WIRING.data, WIRING.clock)
    package.GPIO.cleanup([WIRING.data, WIRING.clock])


@pytest.fixture
def guarded(board: SimulatedBoard) -> Iterator[BitbangLoadCell]:
    cell = BitbangLoadCell("drain", WIRING, board.clock)
    yield cell
    cell.close()


def hangs(board: SimulatedBoard, call: Callable[[], object], let_go: Callable[[], object]) -> bool:
    worker = board.clock.start("bare package", lambda: void(call()))
    has_returned = board.clock.join(worker, LONG_S)
    let_go()
    assert board.clock.join(worker, 10.0)
    return not has_returned


def void(_result: object) -> None:
    pass


def answering(world: HandSetWorld) -> Callable[[], None]:
    def let_go() -> None:
        world.counts["drain"] = 100.0

    return let_go


class GivenUpError(Exception):
    """Ends a loop that takes no turns and so could not be watched by the clock."""


def stall_at(accesses: set[int], stall_s: float = STALL_S) -> Callable[[], float]:
    """Hold the system up at these accesses to the pins, counted from now."""
    made = 0

    def stall() -> float:
        nonlocal made
        made += 1
        return stall_s if made in accesses else 0.0

    return stall


# --- the package says nothing where it should


def test_bare_package_never_returns_if_the_converter_is_silent(
    bare: Any, board: SimulatedBoard, world: HandSetWorld
) -> None:
    world.faults["drain"] = "silent"
    assert hangs(board, lambda: bare.get_raw_data(2), world.faults.clear)


@pytest.mark.parametrize("count", [8_388_607, -8_388_608, 0, -1])
def test_bare_package_never_returns_with_these_counts(
    bare: Any, board: SimulatedBoard, world: HandSetWorld, count: int
) -> None:
    world.counts["drain"] = count
    assert hangs(board, lambda: bare.get_raw_data(2), answering(world))


def test_bare_package_loops_at_full_speed_if_pulses_are_slow(
    bare: Any, board: SimulatedBoard
) -> None:
    accesses = 0

    def give_up() -> float:
        nonlocal accesses
        accesses += 1
        if accesses > 20_000:
            raise GivenUpError
        return 0.0

    board.lines.access_s = 40e-6  # as measured over rpi-lgpio on a Zero 2 W, or faster
    board.lines.stall_s = give_up
    with pytest.raises(GivenUpError):
        bare.get_raw_data(2)


def test_ours_returns_in_time_if_the_converter_is_silent(
    guarded: BitbangLoadCell, board: SimulatedBoard, world: HandSetWorld
) -> None:
    guarded.read(2.0)
    world.faults["drain"] = "silent"
    guarded.read(2.0)
    begin_s = board.clock.now_s()
    assert guarded.read(1.0) is None
    assert board.clock.now_s() - begin_s < 1.1


@pytest.mark.parametrize(("count", "reads"), [(0, 0), (-1, -1), (8_388_607, None)])
def test_ours_returns_with_counts_that_the_package_cannot_say(
    guarded: BitbangLoadCell, world: HandSetWorld, count: int, reads: int | None
) -> None:
    world.counts["drain"] = count
    assert guarded.read(2.0) == reads


def test_ours_refuses_a_board_whose_pulses_are_slow(board: SimulatedBoard) -> None:
    # waveform80/rpi-lgpio#2: set, read, clear take 120 to 250 us on a Zero 2 W
    board.lines.access_s = 40e-6
    with pytest.raises(SensorRefusedError, match=r"take 80 us here.*wire it to SPI"):
        BitbangLoadCell("drain", WIRING, board.clock)


def test_ours_refuses_a_board_that_is_held_up_too_often(board: SimulatedBoard) -> None:
    random = Random(1)
    board.lines.stall_s = lambda: STALL_S if random.random() < 0.01 else 0.0
    with pytest.raises(SensorRefusedError, match="of 400 took more than 50 us"):
        BitbangLoadCell("drain", WIRING, board.clock)


def test_refused_board_has_its_pins_free_again(board: SimulatedBoard) -> None:
    board.lines.access_s = 40e-6
    with pytest.raises(SensorRefusedError):
        BitbangLoadCell("drain", WIRING, board.clock)
    board.lines.access_s = 2e-6
    cell = BitbangLoadCell("drain", WIRING, board.clock)
    assert cell.read(2.0) == 100_000
    cell.close()


# --- the package accepts what is wrong

# write low, look at the line, then a pulse of two writes and a look for each bit; a write asks
# twice, before and after the pin moves
_TO_FIRST_PULSE = 3
_PER_BIT = 5


def held_up_before_bit(bit: int) -> Callable[[], float]:
    return stall_at({_TO_FIRST_PULSE + _PER_BIT * bit + 1})


def test_bare_package_accepts_the_tail_of_an_aborted_frame(
    bare: Any, board: SimulatedBoard, world: HandSetWorld
) -> None:
    world.counts["drain"] = 0x2AAAAA
    board.clock.sleep(0.1)
    board.lines.stall_s = held_up_before_bit(9)
    assert bare._read() is False
    assert bare._read() not in (False, 0x2AAAAA)


@pytest.mark.parametrize("restarts_word", [True, False])
def test_ours_gives_no_wrong_count_wherever_in_a_frame_it_is_held_up(
    guarded: BitbangLoadCell, board: SimulatedBoard, world: HandSetWorld, restarts_word: bool
) -> None:
    board.drain.restarts_word = restarts_word  # the data sheet does not say
    world.counts["drain"] = 0x2AAAAA
    guarded.read(2.0)
    accesses_of_a_read = _TO_FIRST_PULSE + 25 * _PER_BIT
    counts = set()
    for access in range(1, accesses_of_a_read + 1, 1 if restarts_word else 3):
        board.clock.sleep(0.02)  # a conversion waits
        board.lines.stall_s = stall_at({access})
        counts |= {guarded.read(2.0) for _ in range(3)}
    assert counts == {0x2AAAAA}
    assert guarded.frames_dropped > 30  # all but those in the looks at the data line


def test_bare_package_hangs_in_its_gain_pulse_if_it_was_held_up_there(
    bare: Any, board: SimulatedBoard, world: HandSetWorld
) -> None:
    world.counts["drain"] = 0.0
    board.clock.sleep(0.1)
    board.lines.stall_s = held_up_before_bit(24)
    assert hangs(board, bare._read, answering(world))


def counts_under_stalls(
    board: SimulatedBoard, world: HandSetWorld, read: Callable[[], Any], reads: int
) -> tuple[int, int]:
    """Read a known count while the system is held up now and then; return right and wrong."""
    random = Random(11)
    words = [random.randint(-8_000_000, 8_000_000) for _ in range(40_000)]
    world.counts["drain"] = sequence_of(words, 80.0, board.clock.now_s())
    board.lines.stall_s = lambda: random.uniform(80e-6, 400e-6) if random.random() < 0.001 else 0.0
    known = set(words)
    got = [count for count in (read() for _ in range(reads)) if count not in (None, False)]
    wrong = sum(count not in known for count in got)
    return len(got) - wrong, wrong


def test_bare_package_accepts_wrong_counts_on_a_busy_system(
    bare: Any, board: SimulatedBoard, world: HandSetWorld
) -> None:
    right, wrong = counts_under_stalls(board, world, bare._read, 1000)
    assert right > 500
    assert wrong > 5


def test_ours_accepts_none_on_a_busy_system(
    guarded: BitbangLoadCell, board: SimulatedBoard, world: HandSetWorld
) -> None:
    guarded.read(2.0)
    right, wrong = counts_under_stalls(board, world, lambda: guarded.read(2.0), 1000)
    assert right > 900
    assert wrong == 0
    assert guarded.frames_dropped > 50


# --- side effects


@contextmanager
def bare_root() -> Iterator[logging.Logger]:
    root = logging.getLogger()
    handlers, root.handlers = root.handlers, []
    try:
        yield root
    finally:
        root.handlers = handlers


def test_bare_package_installs_a_handler_at_the_root(bare: Any) -> None:
    with bare_root() as root:
        bare._read()
        assert root.handlers


def test_ours_leaves_the_root_alone(guarded: BitbangLoadCell) -> None:
    with bare_root() as root:
        guarded.read(2.0)
        assert not root.handlers


def test_bare_constructor_takes_a_second_and_ours_a_moment(
    board: SimulatedBoard, bare: Any
) -> None:
    took_s = board.clock.now_s()
    assert took_s > 1.0
    sys.modules["hx711"].GPIO.cleanup([WIRING.data, WIRING.clock])
    cell = BitbangLoadCell("drain", WIRING, board.clock)
    assert board.clock.now_s() - took_s < 0.05
    cell.close()


# --- the parts that ours reaches into


def test_package_is_the_one_that_ours_was_written_against() -> None:
    assert metadata.version("hx711") == hx711_package.KNOWN_VERSION
    project = Path(__file__).parents[3] / "pyproject.toml"
    extras = tomllib.loads(project.read_text(encoding="utf-8"))["project"]
    pin = f"hx711=={hx711_package.KNOWN_VERSION}"
    assert pin in extras["optional-dependencies"]["pi"]
    assert pin in extras["optional-dependencies"]["sim"]


def test_package_still_has_the_parts_that_ours_replaces(board: SimulatedBoard) -> None:
    package: Any = sys.modules["hx711"]
    source = inspect.getsource(package.HX711)
    assert list(inspect.signature(package.HX711._read).parameters) == ["self", "max_tries"]
    assert list(inspect.signature(package.HX711._ready).parameters) == ["self"]
    assert "result = self.get_raw_data(times=6)" in source  # what ours makes raise
    assert source.count("self._apply_setting()") == 2  # what ours leaves out
    assert source.count("return False") == 3  # not ready, long pulse, saturated
    assert "logging.debug(" in inspect.getsource(package)
