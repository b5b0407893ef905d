"""The whole program on the simulated board with a real spool: opens, stops, takes up again."""

import threading
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from tests.kit.agent.benches import COUNTS_PER_KG, ZERO, order

from drainscale.agent.bench_file import Bench, Order, SpoolPlace, UplinkTarget
from drainscale.agent.devices import Devices
from drainscale.agent.program import SPOOL_FILE, Finished, Program
from drainscale.errors import BenchFileError, InputError, SpoolError
from drainscale.messages.records import JobOpened, Note
from drainscale.messages.topics import BenchId
from drainscale.procedure.steps import Step
from drainscale.quantities.samples import Sample, ScaleCount, StepMark
from drainscale.uplink.spool import Spool
from drainscale_sim.board.hand_set_world import HandSetWorld
from drainscale_sim.board.simulated_board import BoardSettings, SimulatedBoard

BOOT = "11111111-2222-3333-4444-555555555555"
OTHER_BOOT = "99999999-8888-7777-6666-555555555555"


@pytest.fixture
def world() -> HandSetWorld:
    world = HandSetWorld(pan_C=21.5)
    place = iter(range(10**9))
    world.counts["drain"] = lambda t: (
        ZERO + (1.0 if t > 3.0 else 0.0) * COUNTS_PER_KG + next(place) % 7
    )
    return world


class Bay:
    """Starts the program again and again on one board and spool."""

    def __init__(self, board: SimulatedBoard, bench: Bench, devices: Devices) -> None:
        self.board, self.bench, self.devices = board, bench, devices
        self.order: Order | None = order()
        self.boot = BOOT
        self.gates: list[str] = []

    @property
    def clock_s(self) -> float:
        return self.board.clock.now_s()

    def run(self, lasts_s: float, before: Callable[[Program], None] | None = None) -> Finished:
        stop = threading.Event()
        program = Program(self.bench, self.order, self.devices, self.boot, self.gates)
        if before is not None:
            before(program)
        self.board.clock.call_at(self.clock_s + lasts_s, stop.set)
        return program.run(stop)

    def away(self, lasts_s: float) -> None:
        """Let the time pass with nobody there."""
        self.board.clock.sleep(lasts_s)

    def reboot(self, away_s: float, *, is_wall_set: bool, wall_off_s: float = 0.0) -> None:
        """Start the machine anew: another boot, and the wall clock as it may be then."""
        self.away(away_s)
        self.boot = OTHER_BOOT
        clock = self.board.clock
        clock._is_wall_set = is_wall_set
        clock._wall_start_s += wall_off_s

    def look(self) -> tuple[JobOpened | None, list[Sample], list[Note]]:
        """What the spool holds of the open job."""
        spool = Spool(Path(self.bench.spool.folder) / SPOOL_FILE, BenchId("north", "bay-1"))
        try:
            running = spool.open_job()
            if running is None:
                return None, [], []
            samples = list(spool.samples(running.job))
            notes = [one for one in spool.history(running.job) if isinstance(one, Note)]
            return running.opened, samples, notes
        finally:
            spool.close()

    def counts_t(self) -> list[float]:
        return [sample.t for sample in self.look()[1] if isinstance(sample, ScaleCount)]


@pytest.fixture
def bay(board: SimulatedBoard, bench: Bench, devices: Devices) -> Bay:
    return Bay(board, bench, devices)


def test_new_job_is_opened_with_bench_order_and_clock(bay: Bay) -> None:
    finished = bay.run(5.0)
    opened, samples, _ = bay.look()
    assert opened is not None
    assert opened.spec == bay.bench.with_order(order())
    assert (opened.kernel_boot, opened.is_clock_set) == (BOOT, True)
    assert opened.base_time_s == pytest.approx(1_800_000_000.0)
    assert samples
    assert not finished.is_done


def test_without_open_job_and_order_there_is_nothing_to_do(bay: Bay) -> None:
    bay.order = None
    with pytest.raises(BenchFileError, match="no order"):
        bay.run(5.0)
    assert bay.look()[0] is None


def test_open_job_is_taken_up_without_an_order(bay: Bay) -> None:
    first = bay.run(8.0)
    bay.order = None
    second = bay.run(8.0)
    assert second.job == first.job
    times = bay.counts_t()
    assert all(a <= b for a, b in pairwise(times))
    assert times[-1] == pytest.approx(16.0, abs=0.3)


def test_order_does_not_change_a_job_that_is_open(bay: Bay) -> None:
    first = bay.run(5.0)
    fluid = replace(order().fluid, density_kg_per_m3=900.0)
    bay.order = Order(order().procedure, fluid)
    assert bay.run(5.0).job == first.job
    opened, *_ = bay.look()
    assert opened is not None
    assert opened.spec.fluid.density_kg_per_m3 == 845.0


def test_time_away_counts_while_the_machine_ran_on(bay: Bay) -> None:
    bay.run(8.0)
    bay.away(100.0)
    bay.run(8.0)
    assert bay.counts_t()[-1] == pytest.approx(116.0, abs=0.3)


def test_after_a_restart_of_the_machine_the_wall_clock_tells_how_long_it_was_away(
    bay: Bay,
) -> None:
    bay.run(8.0)
    # its monotonic clock begins anew, which here is told by another name of the boot only
    bay.reboot(100.0, is_wall_set=True, wall_off_s=40.0)
    bay.run(8.0)
    assert bay.counts_t()[-1] == pytest.approx(8.0 + 140.0 + 8.0, abs=0.3)


@pytest.mark.parametrize("settings", [BoardSettings(is_wall_set=False)])
def test_job_begun_without_a_wall_clock_says_so_and_goes_on_where_it_was(bay: Bay) -> None:
    bay.run(8.0)
    opened, *_ = bay.look()
    assert opened is not None
    assert not opened.is_clock_set
    bay.reboot(100.0, is_wall_set=True, wall_off_s=1e8)  # set now: its past means nothing
    bay.run(8.0)
    assert bay.counts_t()[-1] == pytest.approx(16.0, abs=0.6)


def test_wall_clock_lost_in_a_restart_lets_the_job_go_on_where_it_was(bay: Bay) -> None:
    bay.run(8.0)
    bay.reboot(100.0, is_wall_set=False, wall_off_s=-1.8e9)
    bay.run(8.0)
    assert bay.counts_t()[-1] == pytest.approx(16.0, abs=0.6)


def test_wall_clock_that_was_set_back_does_not_let_times_stand_still(bay: Bay) -> None:
    bay.run(8.0)
    bay.reboot(1.0, is_wall_set=True, wall_off_s=-3600.0)
    before = len(bay.counts_t())
    bay.run(8.0)
    times = bay.counts_t()[before:]
    assert times[-1] == pytest.approx(16.0, abs=0.6)
    assert all(b - a == pytest.approx(0.1, abs=0.02) for a, b in pairwise(times))


def test_machine_that_does_not_name_its_boot_is_taken_for_restarted(bay: Bay) -> None:
    bay.boot = ""
    bay.run(8.0)
    bay.board.clock._is_wall_set = False
    bay.away(100.0)
    bay.run(8.0)
    assert bay.counts_t()[-1] == pytest.approx(16.0, abs=0.6)


def test_answers_to_gates_outlive_a_restart(bay: Bay) -> None:
    bay.gates = ["fill-plug-opens", "level-before-drain", "pan-and-filter=stays-on"]
    bay.run(8.0)
    bay.gates = []
    cues: list[str] = []

    def look_later(program: Program) -> None:
        def look() -> None:
            assert program._run is not None
            cues.append(str(program._run.cue))

        bay.board.clock.call_at(bay.clock_s + 6.0, look)

    bay.run(8.0, look_later)
    assert cues == ["go-on"]
    assert [note.key for note in bay.look()[2]] == [
        "fill-plug-opens",
        "level-before-drain",
        "pan-and-filter",
    ]


def test_job_that_is_stopped_before_its_list_is_answered_asks_for_it_again(bay: Bay) -> None:
    bay.gates = ["check-plug-torqued"]

    def end(program: Program) -> None:
        def now() -> None:
            assert program._loop is not None
            program._loop.intake.put(lambda t: StepMark(t, Step.DONE))

        bay.board.clock.call_at(bay.clock_s + 4.0, now)

    first = bay.run(8.0, end)
    assert not first.is_done
    assert bay.look()[0] is not None

    def answer(program: Program) -> None:
        def now() -> None:
            assert program._run is not None
            program._run.pressed(bay.clock_s)

        bay.board.clock.call_at(bay.clock_s + 4.0, now)

    second = bay.run(20.0, answer)
    assert (second.job, second.is_done) == (first.job, True)
    assert bay.look()[0] is None
    spool = Spool(Path(bay.bench.spool.folder) / SPOOL_FILE, BenchId("north", "bay-1"))
    notes = [one for one in spool.history(first.job) if isinstance(one, Note) and one.by == "kit"]
    spool.close()
    keys = [note.key for note in notes]
    assert len(keys) == len(set(keys))
    assert ("used-oil-logged", "ticked") in [(note.key, note.text) for note in notes]


def test_aborted_job_is_closed_and_the_next_start_begins_another(bay: Bay) -> None:
    def abort(program: Program) -> None:
        def now() -> None:
            assert program._run is not None
            program._run.command(6.0, "abort", None)

        bay.board.clock.call_at(bay.clock_s + 6.0, now)

    first = bay.run(60.0, abort)
    assert first.is_done
    assert bay.clock_s < 10.0
    assert bay.look()[0] is None
    assert bay.run(3.0).job != first.job


@pytest.mark.parametrize(
    ("gate", "why"),
    [
        ("no-such-gate", "--gate no-such-gate: gate no-such-gate: this unit has none"),
        ("pan-and-filter=perhaps", "answer 'perhaps' is none of stays-on"),
        ("overflowed-engine-off", "this unit has none"),  # of one filled through the check hole
    ],
)
def test_wrong_gate_is_refused_and_no_job_is_opened(bay: Bay, gate: str, why: str) -> None:
    bay.gates = ["fill-plug-opens", gate]
    with pytest.raises(InputError, match=why):
        bay.run(5.0)
    assert bay.look()[0] is None


def test_wrong_gate_leaves_a_job_that_is_open_as_it_is(bay: Bay) -> None:
    first = bay.run(5.0)
    bay.gates = ["no-such-gate"]
    with pytest.raises(InputError, match="no-such-gate"):
        bay.run(5.0)
    assert bay.look()[2] == []
    bay.gates = []
    assert bay.run(5.0).job == first.job


def test_spool_that_cannot_be_is_one_clear_line(bay: Bay, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    bay.bench = replace(bay.bench, spool=SpoolPlace(str(tmp_path / "file" / "spool")))
    with pytest.raises(SpoolError, match="spool: cannot be made"):
        bay.run(5.0)


def test_spool_of_an_agent_that_runs_is_left_alone(bay: Bay) -> None:
    folder = Path(bay.bench.spool.folder)
    folder.mkdir()
    other = Spool(folder / SPOOL_FILE, BenchId("north", "bay-1"))
    try:
        with pytest.raises(SpoolError, match="in use by another agent"):
            bay.run(5.0)
    finally:
        other.close()


def test_password_that_cannot_be_read_leaves_the_spool_free(bay: Bay, tmp_path: Path) -> None:
    bay.bench = replace(
        bay.bench, uplink=UplinkTarget("127.0.0.1", password_file=str(tmp_path / "nowhere"))
    )
    with pytest.raises(BenchFileError, match="cannot read the password"):
        bay.run(5.0)
    bay.bench = replace(bay.bench, uplink=None)
    assert bay.run(3.0).job


def test_broker_that_is_not_there_keeps_nothing_waiting(bay: Bay) -> None:
    bay.bench = replace(bay.bench, uplink=UplinkTarget("127.0.0.1", 1))  # nobody listens there
    bay.run(8.0)
    assert bay.counts_t()[-1] == pytest.approx(8.0, abs=0.3)
